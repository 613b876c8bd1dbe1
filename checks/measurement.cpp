#include "checks/measurement.hpp"

#include <algorithm>

#include "checks/kernel/decide.hpp"

namespace hb::checks {
Term name(Outcome o) noexcept {
  switch (o) {
    case Outcome::pass:
      return "pass";
    case Outcome::marginal:
      return "marginal";
    case Outcome::fail:
      return "fail";
    case Outcome::not_tested:
      return "not tested";
    case Outcome::waived:
      return "waived";
  }
  return "not tested";
}

Term name(LimitOrigin o) noexcept {
  switch (o) {
    case LimitOrigin::maker_figure:
      return "maker's figure";
    case LimitOrigin::learned:
      return "learned";
    case LimitOrigin::common_practice:
      return "common practice";
  }
  return "common practice";
}

Outcome combine(std::span<const Outcome> outcomes) noexcept {
  constexpr Outcome worst_first[] = {Outcome::fail, Outcome::marginal, Outcome::not_tested, Outcome::waived,
                                     Outcome::pass};
  for (const Outcome w : worst_first)
    if (std::find(outcomes.begin(), outcomes.end(), w) != outcomes.end()) return w;
  return Outcome::not_tested;
}

std::vector<Verdict> score_by_rule(std::span<const Measure> measures, std::span<const Limit> limits) {
  std::vector<Verdict> out;
  for (const Measure& m : measures) {
    Verdict v{m, std::nullopt, Outcome::not_tested, 0, 0};
    const Limit* best = nullptr;
    for (const Limit& l : limits)
      if (l.key == m.key.view() && (l.part == m.part || (l.part.empty() && best == nullptr))) best = &l;
    if (best != nullptr) {
      const auto d = kernel::decide(m.value, m.u, best->lower, best->upper);
      v.limit = *best;
      v.guard_band = d.guard_band;
      v.false_accept_risk = d.outside_probability;
      v.outcome = d.decision == kernel::Decision::accept ? Outcome::pass
                  : d.decision == kernel::Decision::open ? Outcome::marginal
                                                         : Outcome::fail;
    }
    out.push_back(std::move(v));
  }
  return out;
}
}  // namespace hb::checks
