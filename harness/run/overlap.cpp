#include "harness/run/overlap.hpp"

#include <algorithm>
#include <stdexcept>
#include <tuple>

namespace hb::run {
namespace {
/// Heaviest clique by branch and bound; `among` is a bit set of checks that all exclude those chosen so far.
double heaviest(std::uint32_t among, std::span<const std::uint32_t> excludes,
                std::span<const double> weight) {
  double best = 0;
  while (among != 0) {
    double all = 0;
    for (std::size_t i = 0; i < weight.size(); ++i)
      if (among >> i & 1U) all += weight[i];
    if (all <= best) break;
    std::size_t first = 0;
    while (!(among >> first & 1U)) ++first;
    best = std::max(best, weight[first] + heaviest(among & excludes[first], excludes, weight));
    among &= ~(1U << first);
  }
  return best;
}

double covered(std::vector<Span> spans) {
  std::sort(spans.begin(), spans.end(), [](const Span& a, const Span& b) {
    return std::tie(a.connection, a.from_s, a.to_s) < std::tie(b.connection, b.from_s, b.to_s);
  });
  double total = 0, up_to = 0;
  const Span* last = nullptr;
  for (const auto& s : spans) {
    if (last == nullptr || last->connection != s.connection) up_to = s.from_s;
    total += std::max(0.0, s.to_s - std::max(s.from_s, up_to));
    up_to = std::max(up_to, s.to_s);
    last = &s;
  }
  return total;
}
}  // namespace

bool exclude_each_other(const checks::CheckInfo& a, const checks::CheckInfo& b) noexcept {
  return std::any_of(a.holds.begin(), a.holds.end(), [&](checks::Resource r) {
    return std::find(b.holds.begin(), b.holds.end(), r) != b.holds.end();
  });
}

BenchTimes bench_times(std::span<const checks::CheckInfo> checks, std::span<const Span> spans) {
  if (checks.size() > 30) throw std::logic_error("at most 30 checks");
  std::vector<double> weight(checks.size(), 0.0);
  BenchTimes t;
  for (const auto& s : spans) {
    const double took = std::max(0.0, s.to_s - s.from_s);
    weight.at(s.check) += took;
    t.in_a_row_s += took;
  }
  std::vector<std::uint32_t> excludes(checks.size(), 0);
  for (std::size_t i = 0; i < checks.size(); ++i)
    for (std::size_t j = 0; j < checks.size(); ++j)
      if (i != j && exclude_each_other(checks[i], checks[j])) excludes[i] |= 1U << j;
  t.least_s = heaviest((1U << checks.size()) - 1U, excludes, weight);
  t.taken_s = covered({spans.begin(), spans.end()});
  return t;
}

}  // namespace hb::run
