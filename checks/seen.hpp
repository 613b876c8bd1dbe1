/// A check's verdicts, as its diagnosis asks for them. Pure; any thread.
#pragma once

#include <initializer_list>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "checks/measurement.hpp"

namespace hb::checks {

/// A judged measure that failed or is marginal.
[[nodiscard]] inline bool is_bad(const Verdict& v) {
  return v.limit && (v.outcome == Outcome::fail || v.outcome == Outcome::marginal);
}

/// The verdicts of one part; of the check's one subject when `part` is empty.
struct Seen {
  std::span<const Verdict> all;
  ShopText part = {};

  /// nullptr when the measure was not taken.
  [[nodiscard]] const Verdict* find(std::string_view key) const;
  [[nodiscard]] bool bad(std::string_view key) const;
  [[nodiscard]] std::optional<double> value(std::string_view key) const;
  /// Those of the measures that were taken.
  [[nodiscard]] std::vector<Measure> evidence(std::initializer_list<std::string_view> keys) const;
  /// A finding on this part, with that evidence.
  [[nodiscard]] Finding finding(Term id, Term says, Term open_again,
                                std::initializer_list<std::string_view> keys) const;
};
}  // namespace hb::checks
