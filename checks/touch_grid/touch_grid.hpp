/// Touch grid: does every place of every panel feel a finger, does it follow it straight and fast enough, and
/// is it quiet when nobody touches it? Read from the digitizer's own events; no picture, no page, no text.
/// Coordinates: panel millimetres from the top left corner, x right, y down, as the touch device counts them.
/// Threads: acquire() on the phone's strand; the rest is pure. See README.md for the measures.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "checks/definition.hpp"

namespace hb::checks {

struct TouchGrid {
  struct Display {
    ShopText name;
    int max_x = 0, max_y = 0;  ///< as `getevent -lp` lists them: the largest coordinate
    double width_mm = 0, height_mm = 0;
    double fold_y_px = 0;  ///< fold line, horizontal in touch coordinates; 0: none
    double report_rate_hz = 0;
  };
  struct Config {
    std::vector<Display> displays;
  };

  /// Decoded contact points in the order of their reports: same length, one row a point. `contact` numbers
  /// the contacts from 0 in the order in which they began; a contact that the digitizer lost and found again
  /// has a new number.
  struct Points {
    std::vector<std::int64_t> t_us;  ///< the phone's own clock, since boot
    std::vector<int> slot, contact, x, y;
  };
  struct DisplayCapture {
    std::string part;
    bool found = false;    ///< the phone lists a touch device of this size
    bool gave_up = false;  ///< the sweep was not finished in time; what was reached is judged
    /// On the digitizer's own clock, by the order in which its events came; both ends belong to it.
    std::int64_t rest_from_us = 0, rest_to_us = 0, sweep_from_us = 0, sweep_to_us = 0;
    Points points;
    std::vector<std::int64_t> up_us;  ///< by contact: when it was lifted; -1: not seen
    /// Stretches in which the phone dropped reports (SYN_DROPPED): not judged.
    std::vector<std::int64_t> dropped_from_us, dropped_to_us;
    std::int64_t bad_lines = 0;
  };
  struct Capture {
    int touch_nodes = 0;  ///< touch devices that the phone lists, of any size
    std::vector<DisplayCapture> displays;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  /// Errors: those of the phone and the hands; unsupported when the phone lists no touch device at all.
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, const Config& config) const;
  /// unsupported: no panel was swept (nothing to judge). bad_format: a torn capture.
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
};

void to_json(nlohmann::json& j, const TouchGrid::Capture& c);
void from_json(const nlohmann::json& j, TouchGrid::Capture& c);

}  // namespace hb::checks
