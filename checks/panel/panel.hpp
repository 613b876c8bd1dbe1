/// Panel: what the screens show. A person looks at full-screen fields of one colour and marks what is wrong;
/// every value is observed by that person, none is measured by the program; each key says so
/// ("panel.observed_...").
/// Capture   per display: whether the fields were shown, the screen's size, the marks by field.
/// Measures  see README.md. Counts are exact; whether all was seen that was there is not known.
/// Errors    acquire: unsupported (no browser), timed_out (not folded in time), what page and hands give of
///           link and cancelling. A panel that could not be shown is kept as such. measure: unsupported (a
///           panel was not shown and nothing was found on the others), bad_format (a torn capture).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "checks/definition.hpp"

namespace hb::checks {

struct Panel {
  struct Display {
    ShopText name;
    double width_mm = 0, height_mm = 0;
    double fold_mm = 0;   ///< height of the fold line below the top edge; 0: none
    bool closed = false;  ///< lit while the phone is closed
  };
  struct Config {
    std::vector<Display> displays;
    double fold_zone_mm = 16;   ///< full height of the zone about the fold line
    double same_place_mm = 10;  ///< marks on several fields that are no farther apart are one fault
  };

  enum class Shown { yes, not_opened, left_out, not_filled, other_screen, too_late };
  struct DisplayCapture {
    std::string part;
    Shown shown = Shown::not_opened;
    int width_px = 0, height_px = 0;
    std::vector<Field> fields;
    std::vector<std::vector<Mark>> marks;  ///< by field
    friend bool operator==(const DisplayCapture&, const DisplayCapture&) = default;
  };
  struct Capture {
    std::vector<DisplayCapture> displays;
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  /// One fault of a panel, gathered from its marks on several fields.
  struct Fault {
    enum class Kind { bright_dot, dark_dot, column, row, patch };
    Kind kind = Kind::dark_dot;
    double x_mm = 0, y_mm = 0;         ///< mean of its marks
    double w_mm = 0, h_mm = 0;         ///< of a patch: mean of the boxes drawn; 0: only tapped
    std::array<bool, kFields> seen{};  ///< on which fields it was marked
    bool on_fold = false;              ///< a dot, row or patch in the zone about the fold
    int sub_pixels = 0;  ///< of a dot: 1 red, 2 green, 4 blue, added, as far as the primaries tell; 0 not
    [[nodiscard]] bool on(Field f) const { return seen[static_cast<std::size_t>(f)]; }
  };
  /// Tap error of a finger in x and in y. ISO 9241-411: effective width is 4.133 standard deviations; 7 mm
  /// is a target that fingers hit in common guidance (from memory).
  static constexpr double kTapSd_mm = 7 / 4.133;

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  /// invalid_argument: no [[display]].
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);

  /// What is shown on a display, in order: a display without a fold has no crease to look at.
  [[nodiscard]] static std::vector<Field> fields_of(const Display& display);
  [[nodiscard]] static std::vector<Fault> faults(const DisplayCapture& capture, const Display& display,
                                                 const Config& config);
};

void to_json(nlohmann::json& j, const Panel::Capture& c);
void from_json(const nlohmann::json& j, Panel::Capture& c);

static_assert(CheckDefinition<Panel>);
}  // namespace hb::checks
