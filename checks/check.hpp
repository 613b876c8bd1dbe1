/// The contract between checks, profiles, the runner and the reports.
///
/// A check is one folder: it acquires numbers from a phone (the only part that waits), measures them, scores
/// the measures against limits, and names the likely assembly fault. Everything after acquisition is pure, so
/// that a journal of captures replays to the same bits.
/// Threads: value types; acquire() runs on its phone's strand; the rest on any thread.
#pragma once

#include <chrono>
#include <concepts>
#include <cstdint>
#include <functional>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "checks/fields.hpp"
#include "checks/hands.hpp"
#include "harness/base/gate.hpp"
#include "harness/net/clock.hpp"

namespace hb::phone {
class Phone;
}

namespace hb::checks {

// ---------------------------------------------------------------- measures and limits

/// One number with its unit and standard uncertainty (k = 1, same unit; JCGM 100:2008). `part` names the
/// display, cell or camera in the profile's words; empty when the check has one subject.
struct Measure {
  Term key;  ///< "hinge_sweep.offset_flat_deg": folder name, dot, quantity with unit
  ShopText part;
  double value = 0;
  double u = 0;        ///< standard uncertainty, > 0 unless the value is an exact count
  Term unit;           ///< "deg", "mm", "mA", "1" for a pure number
  std::int64_t n = 0;  ///< observations behind it
};

enum class LimitOrigin { maker_figure, learned, common_practice };

/// A tolerance interval on one measure. At least one of lower and upper is set.
struct Limit {
  std::string key;  ///< equals Measure::key
  ShopText part;    ///< empty: applies to every part
  std::optional<double> lower, upper;
  LimitOrigin origin = LimitOrigin::common_practice;
};

/// `waived`: the customer and the shop agreed beforehand not to judge it; a reason is recorded.
enum class Outcome { pass, marginal, fail, not_tested, waived };

/// A measure judged. Without a limit it is shown and not judged (`limit` empty, outcome pass is never
/// implied).
struct Verdict {
  Measure measure;
  std::optional<Limit> limit;
  Outcome outcome = Outcome::not_tested;
  double guard_band = 0;  ///< same unit as the measure
  double false_accept_risk =
      0;  ///< probability that the true value is outside although accepted (JCGM 106:2012, 7.3)
};

/// The likely assembly fault behind a fail or a marginal, in words that name the part to open again.
struct Finding {
  Term id;          ///< closed list of the check: "fold_flex_pinched"
  Term says;        ///< what was seen, plain words
  Term open_again;  ///< which connector or part to look at first
  ShopText part;
  std::vector<Measure> evidence;
};

// ---------------------------------------------------------------- pictures made of numbers

struct Series {
  Term name, unit;
  std::vector<double> values;
};
/// What a sheet can draw. kind "touch_map": cols x rows cells, series "reached" in 0..1 (row major, y down)
/// and "fold_rows" {first, last} row of the fold zone (empty if none).
/// kind "hinge_curve": series "commanded", "opening", "closing" (deg): median reported angle against the
/// fraction of travel; "stop_deg","stop_reported_deg".
/// kind "battery_trace": series "t" (s), then per cell "<cell>" voltage (V) as part-labelled plots.
/// kind "defect_map": series "size" {width, height} mm of the panel, "fold" {from, to} mm (absent: none), and
/// a row a fault in "kind" (checks/panel/panel.hpp), "x", "y", "w", "h" mm. kind "charge_trace": "t" (s),
/// "current" (mA). kind "sfr": "frequency" (cycles/px), "centre", "worst".
struct Plot {
  Term kind;
  ShopText part;
  int cols = 0, rows = 0;
  std::vector<Series> series;
};

// ---------------------------------------------------------------- what a check says of itself

/// What a check needs for itself: two that share one never run side by side. `battery_load` is what the phone
/// draws: held by a check that needs it steady, and by each that changes it (motor, cameras, displays that
/// switch, automatic brightness). `hands`: the phone is moved, or must lie still.
enum class Resource { screen, hinge, cameras, battery_load, charger, hands, page };

struct CheckInfo {
  Term id;              ///< folder name
  Term title;           ///< shown to the technician: "Touch grid"
  Term customer_title;  ///< shown on the sheet: "Touch on the whole screen"
  std::vector<Resource> holds;
  std::chrono::seconds budget{60};  ///< bench time it normally takes
  Term caution;                     ///< shown before it starts; may be empty
};

/// A key that a check reads from its profile section. `expects` finishes the sentence "expected ...".
enum class KeyType { number, integer, text, boolean, numbers };
struct KeySpec {
  Term key;
  KeyType type = KeyType::number;
  Term expects;
  bool required = true;
  double min = -1e12, max = 1e12;  ///< numbers and the elements of `numbers`
};
/// `array`: written as [[name]] tables, one a part, each with a `name` key (text, unique), which is implied.
struct SectionSpec {
  Term name;
  bool array = false;
  std::vector<KeySpec> keys;
};

/// One validated table of a profile. Getters: the key must be in the spec (else std::logic_error); an absent
/// optional key gives the fallback.
class Section {
 public:
  ShopText name;  ///< of an array table; empty for a plain one
  [[nodiscard]] double number(std::string_view key, double fallback = 0) const;
  [[nodiscard]] long long integer(std::string_view key, long long fallback = 0) const;
  [[nodiscard]] bool boolean(std::string_view key, bool fallback = false) const;
  [[nodiscard]] std::string text(std::string_view key, std::string fallback = {}) const;
  [[nodiscard]] std::vector<double> numbers(std::string_view key) const;
  [[nodiscard]] bool has(std::string_view key) const { return values.contains(key); }
  nlohmann::json values = nlohmann::json::object();
};
/// What a check gets to configure itself: sections by name; more than one for array sections.
struct Sections {
  std::vector<std::pair<std::string, Section>> all;
  [[nodiscard]] std::vector<const Section*> named(std::string_view name) const;
  [[nodiscard]] const Section* one(std::string_view name) const;  ///< nullptr if absent
};

// ---------------------------------------------------------------- what a check may use while acquiring

/// One picture from a camera, 8-bit sRGB, interleaved R G B, row major, top left first. Lives in memory
/// only: there is deliberately no way to serialise it.
struct Frame {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;
  double t_ms = 0;     ///< when it was taken, on the page's clock
  double focus_m = 0;  ///< the distance that the focus was set to; 0: the camera's own choice
  Frame() = default;
  Frame(Frame&&) = default;
  Frame& operator=(Frame&&) = default;
  Frame(const Frame&) = delete;
  Frame& operator=(const Frame&) = delete;
};

enum class Facing { back, front };

/// Pictures from camera `index` among those facing that way, at the resolution nearest to width x height.
struct CameraAsk {
  Facing facing = Facing::back;
  int index = 0, width = 0, height = 0;
};

/// Gets frame `i` of a take as soon as it came, in any order; the pixels are overwritten when it returns. A
/// page that was loaded anew in the middle sends its frames again, so the last one for an `i` counts.
using FrameSink = std::function<void(int i, const Frame& frame)>;

/// One recording of a microphone: mono, 16 bit, full scale 32768, with the phone's echo cancelling, noise
/// suppression and gain control off. Lives in memory only: there is deliberately no way to serialise it.
struct Recording {
  int rate_hz = 0;
  std::vector<std::int16_t> samples;
  Recording() = default;
  Recording(Recording&&) = default;
  Recording& operator=(Recording&&) = default;
  Recording(const Recording&) = delete;
  Recording& operator=(const Recording&) = delete;
};
/// Gets the recording; its samples are overwritten when it returns. As with frames, the last one counts.
using RecordingSink = std::function<void(const Recording& recording)>;

/// A sweep (kernel::Sweep) played through one output while one microphone records: silence of `lead_s`, the
/// sweep, silence of `tail_s`. Outputs and microphones count from 0 in the browser's own order.
struct SweepAsk {
  int output = 0, microphone = 0;
  double f1_hz = 100, f2_hz = 20000, sweep_s = 1;
  double level = 0.25;  ///< highest sample, full scale is 1
  double lead_s = 0.3, tail_s = 0.7;
};
struct SoundPlaces {
  int microphones = 0, outputs = 0;
};

/// The phone's own browser, as far as a check may use it.
class PagePort {
 public:
  virtual ~PagePort() = default;
  /// Opens the page on the phone if it is not open yet. unsupported: no browser may be used.
  [[nodiscard]] virtual net::awaitable<Result<void>> open() = 0;
  /// How many cameras the page can reach, by facing.
  [[nodiscard]] virtual net::awaitable<Result<int>> cameras(Facing facing) = 0;
  /// Takes `count` frames from camera `index` among those facing that way, at the resolution nearest to
  /// width x height; each is shown to `sink` and gone, so that one picture a phone is in memory at a time.
  /// not_found: no such camera; refused: the person said no; timed_out.
  [[nodiscard]] virtual net::awaitable<Result<void>> frames(Facing facing, int index, int width, int height,
                                                            int count, FrameSink sink) = 0;
  /// `each` frames at each of `steps` settings of the focus, evenly spaced in dioptres from the farthest to
  /// the nearest that the browser offers: frame i is at setting i / each, and its focus_m says which. Then
  /// the camera focuses by itself again. Errors: as frames(); unsupported: this browser or this camera lets
  /// nobody set the focus.
  [[nodiscard]] virtual net::awaitable<Result<void>> focus_frames(CameraAsk ask, int steps, int each,
                                                                  FrameSink sink);
  /// `dark` frames, `lit` ones from the moment on in which the camera's light was switched on, and `dark`
  /// ones when it is off again, all scaled down to within width x height. Off it is whatever came of it.
  /// Errors: as frames(); unsupported: this browser or this camera lets nobody switch a light.
  [[nodiscard]] virtual net::awaitable<Result<void>> light_frames(CameraAsk ask, int dark, int lit,
                                                                  FrameSink sink);
  /// Opens the page if need be and has it offer "Start" for the microphone, so that the person's tap
  /// (Deed::allow_on_page) allows that. Errors: as open().
  [[nodiscard]] virtual net::awaitable<Result<void>> open_for_sound();
  /// What the browser lets a page choose from. A browser that cannot choose outputs has one: wherever the
  /// phone plays. refused, timed_out: the microphone was not allowed.
  [[nodiscard]] virtual net::awaitable<Result<SoundPlaces>> sound_places();
  /// Plays and records; the recording goes to `sink` and is gone. not_found: no such output or microphone;
  /// refused; timed_out; unsupported.
  [[nodiscard]] virtual net::awaitable<Result<void>> sweep(SweepAsk ask, RecordingSink sink);
  /// Shows the fields one after the other on the whole screen until the person has gone through all of them,
  /// and gives what they marked. unsupported: this browser cannot fill the screen, or the phone lies turned;
  /// refused: the person said no; timed_out.
  [[nodiscard]] virtual net::awaitable<Result<FieldMarks>> fields(FieldShow show);
  /// Removes the reverse forward and closes the page.
  [[nodiscard]] virtual net::awaitable<Result<void>> close() = 0;
};

/// Live progress: fraction in 0..1 of this check, and a closed word for what is going on.
class Progress {
 public:
  virtual ~Progress() = default;
  virtual void step(double fraction, Term doing) = 0;
  /// A touch map cell was reached; for live painting. Default: ignored.
  virtual void cell(int /*col*/, int /*row*/, int /*cols*/, int /*rows*/) {}
};

struct Context {
  phone::Phone& phone;
  PagePort* page;  ///< nullptr: no browser may be used
  net::Clock& clock;
  Hands& hands;
  Progress& progress;
};

// ---------------------------------------------------------------- the shape of a check

/// Limits are looked up by key and part; each measure with a limit gets a verdict by the decision rule.
[[nodiscard]] std::vector<Verdict> score_by_rule(std::span<const Measure> measures,
                                                 std::span<const Limit> limits);

/// Parts of one capture: measures, and pictures for the sheet.
struct Measured {
  std::vector<Measure> measures;
  std::vector<Plot> plots;
  Term missing;  ///< why measures that the profile limits are not there; empty: a general sentence
  /// Measures that were due and could not be taken: a limit for all parts is not met by the other parts.
  struct Owed {
    Term key;
    ShopText part;
  };
  std::vector<Owed> owed = {};
};

template <class C>
concept CheckDefinition = requires(const C& c, Context& context, const typename C::Config& config,
                                   const typename C::Capture& capture, const Sections& sections,
                                   std::span<const Verdict> verdicts, const nlohmann::json& j) {
  { C::needs() } -> std::same_as<CheckInfo>;
  { C::sections() } -> std::same_as<std::vector<SectionSpec>>;  // profile sections that it reads
  { C::configure(sections) } -> std::same_as<Result<typename C::Config>>;
  { C::limit_keys() } -> std::same_as<std::vector<Term>>;  // measure keys that a profile may limit
  { c.acquire(context, config) } -> std::same_as<net::awaitable<Result<typename C::Capture>>>;
  { C::measure(capture, config) } -> std::same_as<Result<Measured>>;  // unsupported => not tested
  { C::diagnose(verdicts, capture, config) } -> std::same_as<std::vector<Finding>>;
  {nlohmann::json(capture)};
  { j.template get<typename C::Capture>() } -> std::same_as<typename C::Capture>;
};

/// One finished (or refused) check, as the record holds it.
struct CheckResult {
  std::string id;
  std::string title, customer_title;
  Outcome outcome = Outcome::not_tested;
  std::string reason;  ///< of not tested or waived: words of this program
  std::vector<Verdict> verdicts;
  std::vector<Finding> findings;
  std::vector<Plot> plots;
  int tries = 1;
  double bench_seconds = 0;
};

/// A check with its type erased, for the runner.
class AnyCheck {
 public:
  virtual ~AnyCheck() = default;
  [[nodiscard]] virtual CheckInfo info() const = 0;
  [[nodiscard]] virtual std::vector<SectionSpec> sections() const = 0;
  [[nodiscard]] virtual std::vector<Term> limit_keys() const = 0;
  /// The configuration is checked when the profile is loaded: an Error here is a profile error.
  [[nodiscard]] virtual Result<void> try_configure(const Sections& sections) const = 0;
  /// Talks to the phone; the capture comes back as numbers in JSON, ready for the journal.
  [[nodiscard]] virtual net::awaitable<Result<nlohmann::json>> acquire(Context& context,
                                                                       const Sections& sections) const = 0;
  /// Pure: the same capture, profile and limits give the same result, bit for bit.
  [[nodiscard]] virtual Result<CheckResult> judge(const nlohmann::json& capture, const Sections& sections,
                                                  std::span<const Limit> limits) const = 0;
};

/// Worst first: fail, marginal, not tested, waived, pass. An empty list is not tested. One fail fails.
[[nodiscard]] Outcome combine(std::span<const Outcome> outcomes) noexcept;
[[nodiscard]] Term name(Outcome o) noexcept;
[[nodiscard]] Term name(LimitOrigin o) noexcept;

/// Scores, combines and diagnoses. A limit of this check that found no measure makes the check not tested
/// (unless something else already fails it): a missing number is never a pass.
[[nodiscard]] Result<CheckResult> finish_result(
    const CheckInfo& info, Result<Measured> measured, std::span<const Limit> limits,
    const std::function<std::vector<Finding>(std::span<const Verdict>)>& diagnose);

template <CheckDefinition C>
class Erased final : public AnyCheck {
 public:
  [[nodiscard]] CheckInfo info() const override { return C::needs(); }
  [[nodiscard]] std::vector<SectionSpec> sections() const override { return C::sections(); }
  [[nodiscard]] std::vector<Term> limit_keys() const override { return C::limit_keys(); }
  [[nodiscard]] Result<void> try_configure(const Sections& s) const override {
    auto c = C::configure(s);
    if (!c) return c.error();
    return {};
  }
  [[nodiscard]] net::awaitable<Result<nlohmann::json>> acquire(Context& context,
                                                               const Sections& s) const override {
    auto config = C::configure(s);
    if (!config) co_return config.error();
    auto capture = co_await C{}.acquire(context, *config);
    if (!capture) co_return capture.error();
    co_return nlohmann::json(*capture);
  }
  [[nodiscard]] Result<CheckResult> judge(const nlohmann::json& j, const Sections& s,
                                          std::span<const Limit> limits) const override {
    auto config = C::configure(s);
    if (!config) return config.error();
    typename C::Capture capture;
    try {
      capture = j.get<typename C::Capture>();
    } catch (const nlohmann::json::exception&) {
      return Error{ErrorCode::bad_format, "the journal's capture does not fit this check",
                   C::needs().id.str(), "Run the check again."};
    }
    return finish_result(C::needs(), C::measure(capture, *config), limits,
                         [&](std::span<const Verdict> v) { return C::diagnose(v, capture, *config); });
  }
};

}  // namespace hb::checks
