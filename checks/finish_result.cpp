#include <algorithm>

#include "checks/definition.hpp"

namespace hb::checks {
namespace {
/// The privacy screen stands between any run-time sentence and the record.
std::string screened_reason(const Error& e) {
  const auto t = ShopText::kept(e.what, "reason");
  return t ? t->str() : std::string("the reason was refused by the privacy gate");
}
}  // namespace

Result<CheckResult> finish_result(
    const CheckInfo& info, Result<Measured> measured, std::span<const Limit> limits,
    const std::function<std::vector<Finding>(std::span<const Verdict>)>& diagnose) {
  CheckResult r;
  r.id = info.id.str();
  r.title = info.title.str();
  r.customer_title = info.customer_title.str();
  if (!measured) {
    if (measured.error().code != ErrorCode::unsupported) return std::move(measured).error();
    r.reason = screened_reason(measured.error());
    return r;
  }
  r.verdicts = score_by_rule(measured->measures, limits);
  r.plots = std::move(measured->plots);
  std::vector<Outcome> outcomes;
  for (const Verdict& v : r.verdicts)
    if (v.limit) outcomes.push_back(v.outcome);
  for (const Limit& l : limits) {
    if (l.key.substr(0, l.key.find('.')) != r.id) continue;
    const bool owed = std::any_of(measured->owed.begin(), measured->owed.end(), [&](const auto& o) {
      return o.key.view() == l.key && (l.part.empty() || l.part == o.part);
    });
    const bool met = !owed && std::any_of(r.verdicts.begin(), r.verdicts.end(), [&](const Verdict& v) {
      return v.measure.key.view() == l.key && (l.part.empty() || l.part == v.measure.part);
    });
    if (met) continue;
    outcomes.push_back(Outcome::not_tested);
    if (r.reason.empty())
      r.reason = measured->missing.view().empty()
                     ? "a measure that the profile limits could not be taken: " + l.key
                     : measured->missing.str();
  }
  r.outcome = combine(outcomes);
  if (r.outcome == Outcome::not_tested && r.reason.empty())
    r.reason = "the profile sets no limit for this check";
  r.findings = diagnose(r.verdicts);
  return r;
}

}  // namespace hb::checks
