/// What a check measured and what became of it: values only. Measures with their uncertainty, limits,
/// verdicts, findings in assembly terms, pictures made of numbers, and the result of one check. Threads:
/// value types and pure functions; any thread.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "harness/base/gate.hpp"

namespace hb::checks {

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

/// Limits are looked up by key and part; each measure with a limit gets a verdict by the decision rule.
[[nodiscard]] std::vector<Verdict> score_by_rule(std::span<const Measure> measures,
                                                 std::span<const Limit> limits);

/// Worst first: fail, marginal, not tested, waived, pass. An empty list is not tested. One fail fails.
[[nodiscard]] Outcome combine(std::span<const Outcome> outcomes) noexcept;
[[nodiscard]] Term name(Outcome o) noexcept;
[[nodiscard]] Term name(LimitOrigin o) noexcept;

}  // namespace hb::checks
