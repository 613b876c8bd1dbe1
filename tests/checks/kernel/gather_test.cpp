// Marks of several looks at one surface. The partitions without the rule on looks are R's: hclust of squared
// distances, method "centroid", cut at reach^2 (tests/reference/gather.R prints them).
#include "checks/kernel/gather.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

namespace hb::kernel {
namespace {
using testing::ElementsAre;

struct Row {
  const char* name;
  std::vector<Place> places;
  std::vector<int> things;
};
class Gathered : public testing::TestWithParam<Row> {};
TEST_P(Gathered, IntoThings) { EXPECT_EQ(gather(GetParam().places, 10), GetParam().things); }
INSTANTIATE_TEST_SUITE_P(
    Situations, Gathered,
    testing::Values(Row{"nothing", {}, {}}, Row{"one_look", {{5, 5, 0}}, {0}},
                    Row{"the_same_dot_in_three_looks", {{5, 5, 0}, {7, 4, 1}, {4, 8, 2}}, {0, 0, 0}},
                    Row{"two_dots_of_one_look_however_near", {{5, 5, 0}, {6, 5, 0}}, {0, 1}},
                    Row{"two_dots_seen_twice_pair_by_nearness",
                        {{0, 0, 0}, {8, 0, 0}, {7, 0, 1}, {1, 0, 1}},
                        {0, 1, 1, 0}},
                    Row{"just_within_reach", {{0, 0, 0}, {10, 0, 1}}, {0, 0}},
                    Row{"just_out_of_reach", {{0, 0, 0}, {10.01, 0, 1}}, {0, 1}},
                    // 0 and 9 join first, at 4.5; from there 18.6 is out of reach although it is not from 9.
                    Row{"a_chain_does_not_creep", {{0, 0, 0}, {9, 0, 1}, {18.6, 0, 2}}, {0, 0, 1}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(Gather, WithALookForEachPlaceItIsCentroidLinkageAsInR) {
  const std::vector<Place> places{{12.1, 80.3, 0}, {14.0, 78.9, 1},  {40.2, 20.5, 2},  {38.0, 24.1, 3},
                                  {44.9, 22.2, 4}, {60.5, 150.0, 5}, {52.0, 147.5, 6}, {13.5, 90.9, 7},
                                  {65.0, 10.0, 8}, {51.0, 158.0, 9}};
  EXPECT_THAT(gather(places, 10), ElementsAre(0, 0, 1, 1, 1, 2, 2, 3, 4, 5));
}

// Closed form against a draw: 200 000 pairs of taps.
TEST(Gather, TapsOfOneThingAreSplitAsOftenAsRayleighSays) {
  std::mt19937_64 random(1);
  std::normal_distribution<double> tap(0, 1.7);
  int split = 0;
  constexpr int kPairs = 200'000;
  for (int i = 0; i < kPairs; ++i) {
    const std::vector<Place> two{{tap(random), tap(random), 0}, {tap(random), tap(random), 1}};
    split += gather(two, 5).back();
  }
  const double p = split_probability(5, 1.7);
  EXPECT_NEAR(p, 0.11502, 1e-5);
  EXPECT_NEAR(static_cast<double>(split) / kPairs, p, 4 * std::sqrt(p * (1 - p) / kPairs));
  EXPECT_LT(split_probability(10, 1.7), 2e-4);
}
}  // namespace
}  // namespace hb::kernel
