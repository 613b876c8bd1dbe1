/// Which checks may run side by side, and what that gains. Pure. Threads: any.
///
/// A check holds resources (checks::Resource); two checks may overlap when they share none. With the times
/// that were measured, no order whatever can be quicker than the heaviest set of checks of which each two
/// exclude each other (a clique of the exclusion graph): that is the bound that bench time is shown against.
#pragma once

#include <span>
#include <vector>

#include "checks/check.hpp"

namespace hb::run {

[[nodiscard]] bool exclude_each_other(const checks::CheckInfo& a, const checks::CheckInfo& b) noexcept;

/// When one try of a check ran, in seconds of the phone's clock, and in which connection (a phone that starts
/// again begins its clock anew).
struct Span {
  std::size_t check = 0;  ///< index into the checks
  double from_s = 0, to_s = 0;
  int connection = 0;
};

struct BenchTimes {
  double taken_s = 0;     ///< time with at least one check at work
  double in_a_row_s = 0;  ///< the same checks one after another
  double least_s = 0;     ///< the bound: no order is quicker
};

/// `checks`: at most 30. Spans of the same check add up.
[[nodiscard]] BenchTimes bench_times(std::span<const checks::CheckInfo> checks, std::span<const Span> spans);

}  // namespace hb::run
