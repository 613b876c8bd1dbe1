// Which checks may run side by side, and the bound that bench time is shown against.
#include "harness/run/overlap.hpp"

#include <gtest/gtest.h>

#include <random>

namespace hb::run {
namespace {
using checks::CheckInfo;
using checks::Resource;

CheckInfo holding(std::vector<Resource> r) {
  CheckInfo i;
  i.holds = std::move(r);
  return i;
}

TEST(Overlap, ChecksExcludeEachOtherByWhatTheyShare) {
  const auto load = holding({Resource::battery_load, Resource::charger});
  const auto lying = holding({Resource::hands});
  const auto motor = holding({Resource::hands, Resource::battery_load});
  EXPECT_FALSE(exclude_each_other(load, lying));
  EXPECT_TRUE(exclude_each_other(load, motor));
  EXPECT_TRUE(exclude_each_other(motor, lying));
  EXPECT_FALSE(exclude_each_other(holding({}), holding({})));
}

TEST(Overlap, TimesOfAPlanDoneByHand) {
  // 60 s of load; beside it 25 s and 20 s by hand; then 30 s that need both.
  const std::vector<CheckInfo> checks{holding({Resource::battery_load}), holding({Resource::hands}),
                                      holding({Resource::hands}),
                                      holding({Resource::hands, Resource::battery_load})};
  const std::vector<Span> spans{{0, 0, 60, 0}, {1, 1, 26, 0}, {2, 27, 47, 0}, {3, 62, 92, 0}};
  const auto t = bench_times(checks, spans);
  EXPECT_DOUBLE_EQ(t.taken_s, 90);      // 0..60 and 62..92
  EXPECT_DOUBLE_EQ(t.in_a_row_s, 135);  // 60 + 25 + 20 + 30
  EXPECT_DOUBLE_EQ(t.least_s, 90);      // the load and the last
}

TEST(Overlap, AClockThatBeganAnewIsAnotherConnection) {
  const std::vector<CheckInfo> checks{holding({Resource::hands}), holding({Resource::hands})};
  const std::vector<Span> spans{{0, 100, 130, 0}, {1, 110, 120, 1}};
  EXPECT_DOUBLE_EQ(bench_times(checks, spans).taken_s, 40);
  EXPECT_DOUBLE_EQ(bench_times(checks, {}).least_s, 0);
}

/// The bound again, by trying every set of checks.
double by_all_subsets(const std::vector<CheckInfo>& c, const std::vector<double>& took) {
  double best = 0;
  for (unsigned set = 0; set < 1U << c.size(); ++set) {
    double sum = 0;
    bool clique = true;
    for (std::size_t i = 0; i < c.size(); ++i)
      for (std::size_t j = 0; j < i; ++j)
        if ((set >> i & 1U) && (set >> j & 1U)) clique = clique && exclude_each_other(c[i], c[j]);
    for (std::size_t i = 0; i < c.size(); ++i)
      if (set >> i & 1U) sum += took[i];
    if (clique) best = std::max(best, sum);
  }
  return best;
}

TEST(Overlap, TheBoundIsTheHeaviestSetOfChecksThatExcludeEachOther) {
  std::mt19937 random(5);
  for (int round = 0; round < 200; ++round) {
    std::vector<CheckInfo> checks;
    std::vector<double> took;
    std::vector<Span> spans;
    for (std::size_t i = 0; i < 9; ++i) {
      std::vector<Resource> holds;
      for (int r = 0; r < 7; ++r)
        if (random() % 4 == 0) holds.push_back(static_cast<Resource>(r));
      checks.push_back(holding(holds));
      took.push_back(static_cast<double>(random() % 100));
      spans.push_back({i, 0, took.back(), static_cast<int>(i)});
    }
    EXPECT_DOUBLE_EQ(bench_times(checks, spans).least_s, by_all_subsets(checks, took)) << round;
  }
}
}  // namespace
}  // namespace hb::run
