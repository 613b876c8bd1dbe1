/// The record as the faces read it: typed, total, every text made safe to show. Nothing here judges.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::sheet {

/// In the record's words; ordered from best to worst as checks::combine does.
enum class Outcome { pass, waived, not_tested, marginal, fail };

struct MeasureView {
  std::string key, part, unit;
  double value = 0, u = 0;
  std::int64_t n = 0;
};
struct VerdictView {
  MeasureView measure;
  std::optional<Outcome> outcome;  ///< empty: no limit, shown only
  std::optional<double> lower, upper, guard_band, risk;
  std::string origin;
};
struct FindingView {
  std::string id, says, open_again, part;
  std::vector<MeasureView> evidence;
};
struct SeriesView {
  std::string name, unit;
  std::vector<double> values;
};
struct PlotView {
  std::string kind, part;
  int cols = 0, rows = 0;
  std::vector<SeriesView> series;
  [[nodiscard]] const std::vector<double>* values(std::string_view name) const;  ///< nullptr: absent or empty
};
struct CheckView {
  std::string id, title, customer_title, reason;
  Outcome outcome = Outcome::not_tested;
  int tries = 0;
  double bench_seconds = 0;
  std::string taken_run, taken_at;  ///< of an earlier run of the job that this result is from; else empty
  bool phone_as_it_came = false;    ///< of a run before the repair: nothing is new yet
  std::vector<VerdictView> verdicts;
  std::vector<FindingView> findings;
  std::vector<PlotView> plots;
  /// All verdicts whose key is `id.quantity`.
  [[nodiscard]] std::vector<const VerdictView*> measures(std::string_view quantity) const;
};
struct PartView {
  std::string name, lot;
  bool erased = false;  ///< its name was erased from the ledger
};
/// A check that the customer agreed to leave out. `check`: its id, or a title; `reason` may be empty.
struct WaiverView {
  std::string check, reason;
};
struct View {
  std::string run_id, kind, started, finished, clock, link, software;
  double bench_seconds = 0;
  std::string job, opened, fault, colour, comeback_of, repair;
  bool consent = false;
  std::optional<double> cure_hours;
  std::vector<PartView> parts;
  std::vector<WaiverView> waivers;
  std::vector<std::string> erased;    ///< members of the job that are gone: "fault", "colour", ...
  std::string other_phone;            ///< why another phone than the job's was tested
  double clock_back_s = 0;            ///< how far the clock ran backwards within the run
  std::string follows_run;            ///< an earlier run of the job that this one adds to
  std::vector<std::string> reopened;  ///< what was opened again since
  std::string shop, bench, contact, key_id;
  std::string tag, tail, model, profile_sha256;
  Outcome outcome = Outcome::not_tested;  ///< the worst of the record's own and its checks'
  std::vector<CheckView> checks;
  [[nodiscard]] int count(Outcome o) const;
  [[nodiscard]] bool real_time() const { return clock == "wall"; }
  /// Tested before anything was repaired: at intake, or when it came back.
  [[nodiscard]] bool as_it_came() const { return kind == "intake" || kind == "comeback"; }
  [[nodiscard]] bool is_erased(std::string_view member) const;
};

/// Errors: bad_format when it is no object or `checks` is no list.
[[nodiscard]] Result<View> read(const nlohmann::json& record);

/// Text made safe to show: invalid UTF-8, control characters, line breaks and direction controls become one
/// space or '?'; at most `max` code points, then an ellipsis.
[[nodiscard]] std::string shown(std::string_view text, std::size_t max = 600);

}  // namespace hb::sheet
