#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "harness/base/text.hpp"
#include "reports/comebacks/comebacks.hpp"

namespace hb::comebacks {
namespace {
using nlohmann::json;
constexpr double kMilestones_days[] = {30, 90, 180};

/// The curve's row in force at `t`, or nothing while S is still 1.
const KmRow* at(const std::vector<KmRow>& curve, double t) {
  const KmRow* row = nullptr;
  for (const auto& r : curve)
    if (r.time <= t) row = &r;
  return row;
}

double last_time(const Group& g) {
  double t = 0;
  for (const auto& o : g.data) t = std::max(t, o.time);
  return t;
}

std::string percent(double v) { return fmt::format("{:.1f} %", 100 * v); }
std::string days(const std::optional<double>& d) { return d ? fmt::format("{:.1f}", *d) : "not reached"; }

std::string group_lines(const Group& g) {
  std::string out =
      fmt::format("{:<28} {:>5} {:>9}   {:>7}  {:>7} .. {:<7}", g.name.substr(0, 28), g.rate.n, g.rate.events,
                  percent(g.rate.rate), percent(g.rate.lower), percent(g.rate.upper));
  if (g.few()) return out + fmt::format("   n={}: too few to tell\n", g.rate.n);
  out += '\n';
  for (const double t : kMilestones_days) {
    if (t > last_time(g)) break;
    const auto* row = at(g.curve, t);
    if (row == nullptr || !row->lower)
      out += fmt::format("    not back after {:>3} days: {}\n", t,
                         row == nullptr ? "100.0 %" : percent(row->survival));
    else
      out += fmt::format("    not back after {:>3} days: {} ({} .. {})\n", t, percent(row->survival),
                         percent(*row->lower), percent(*row->upper));
  }
  if (g.median_days.time)
    out += fmt::format("    half are back after {} days ({} .. {})\n", days(g.median_days.time),
                       days(g.median_days.lower), days(g.median_days.upper));
  return out;
}

std::string counted(const char* heading, const std::map<std::string, int>& counts, int of) {
  std::vector<std::pair<std::string, int>> rows(counts.begin(), counts.end());
  std::stable_sort(rows.begin(), rows.end(),
                   [](const auto& a, const auto& b) { return a.second > b.second; });
  std::string out = fmt::format("  {}\n", heading);
  if (rows.empty()) out += "    none\n";
  for (const auto& [what, n] : rows)
    out += fmt::format("    {:<48} {:>4} of {}\n", what.substr(0, 48), n, of);
  return out;
}

json optional_number(const std::optional<double>& d) { return d ? json(*d) : json(); }

json group_json(const Group& g) {
  json curve = json::array();
  for (const auto& r : g.curve)
    curve.push_back({{"days", r.time},
                     {"at_risk", r.at_risk},
                     {"events", r.events},
                     {"survival", r.survival},
                     {"se", optional_number(r.se)},
                     {"lower", optional_number(r.lower)},
                     {"upper", optional_number(r.upper)}});
  return {{"name", g.name},
          {"n", g.rate.n},
          {"comebacks", g.rate.events},
          {"rate", g.rate.rate},
          {"rate_lower", g.rate.lower},
          {"rate_upper", g.rate.upper},
          {"too_few", g.few()},
          {"median_days", optional_number(g.median_days.time)},
          {"median_lower", optional_number(g.median_days.lower)},
          {"median_upper", optional_number(g.median_days.upper)},
          {"curve", std::move(curve)}};
}

}  // namespace

std::string render(const Study& study, const Comparison& c, const Signs& s) {
  const auto what =
      c.part.empty() ? name(c.by).str() : fmt::format("{} of the {}", name(c.by).view(), c.part);
  std::string out = fmt::format("Comebacks by {}, as of {}\n{} jobs handed back, {} came back", what,
                                study.as_of_utc, study.subjects.size(), s.comebacks);
  if (study.without_release > 0)
    out += fmt::format("; {} without a release run are not counted", study.without_release);
  if (study.odd_dates > 0)
    out += fmt::format("; {} left out: back before they were released", study.odd_dates);
  out += study.verified
             ? "\nEvery entry's signature and place in the ledger was checked."
             : "\nNOT VERIFIED: no signature was checked; these figures may rest on changed entries.";
  out += fmt::format("\n\n{:<28} {:>5} {:>9}   {:>7}  {}\n", "", "n", "came back", "rate",
                     "95 % limits (Wilson)");
  for (const auto& g : c.groups) out += group_lines(g);
  if (c.few)
    out += "\nToo few comebacks or groups to compare them.\n";
  else
    out += fmt::format("\nLog-rank test: chi-square {:.3f} on {} degree{} of freedom, p = {:.2g}\n",
                       c.test.chi_square, c.test.df, c.test.df == 1 ? "" : "s", c.test.p);
  if (s.comebacks == 0) return out;
  out += fmt::format("\nOf {} that came back, {} had passed every check at release.\n", s.comebacks,
                     s.clean_releases);
  if (s.comebacks < kFewEvents) out += fmt::format("n={}: too few to tell.\n", s.comebacks);
  out += counted("closest to its limit at release (measure)", s.worst_measure, s.comebacks);
  out += counted("not a clean pass at release (check)", s.not_clean, s.comebacks);
  out += counted("failed on return (check)", s.failed_at_return, s.comebacks);
  return out;
}

json to_json(const Study& study, const Comparison& c, const Signs& s) {
  json groups = json::array();
  for (const auto& g : c.groups) groups.push_back(group_json(g));
  return {{"schema", "handback-comebacks-1"},
          {"as_of", study.as_of_utc},
          {"verified", study.verified},
          {"handed_back", study.subjects.size()},
          {"without_release", study.without_release},
          {"odd_dates", study.odd_dates},
          {"by", name(c.by).str()},
          {"part", c.part},
          {"groups", std::move(groups)},
          {"log_rank",
           {{"chi_square", c.test.chi_square},
            {"df", c.test.df},
            {"p", c.test.p},
            {"observed", c.test.observed},
            {"expected", c.test.expected},
            {"too_few", c.few}}},
          {"signs",
           {{"comebacks", s.comebacks},
            {"clean_releases", s.clean_releases},
            {"worst_measure_at_release", s.worst_measure},
            {"not_clean_at_release", s.not_clean},
            {"failed_at_return", s.failed_at_return}}}};
}

std::string to_csv(const Comparison& c) {
  std::string out = "group,time,event\n";
  for (const auto& g : c.groups)
    for (const auto& o : g.data)
      out += csv_cell(g.name) + "," + record::es_number(o.time) + (o.event ? ",1\n" : ",0\n");
  return out;
}
}  // namespace hb::comebacks
