// Published rows: 6-MP and placebo (Freireich 1963, as tabled by Gehan 1965 and Cox 1972) and `aml` of R's
// survival package; numbers recomputed with R 4.2.2, survival 3.5-3. Wilson: Newcombe 1998, table I, and R
// prop.test.
#include "reports/comebacks/survival.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace hb::comebacks {
namespace {

std::vector<Observation> observations(std::initializer_list<double> negative_is_censored) {
  std::vector<Observation> out;
  for (const double t : negative_is_censored) out.push_back({std::abs(t), t > 0});
  return out;
}
const std::vector<Observation>& six_mp() {
  static const auto d = observations(
      {6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35});
  return d;
}
const std::vector<Observation>& placebo() {
  static const auto d = observations({1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23});
  return d;
}
const std::vector<Observation>& maintained() {
  static const auto d = observations({9, 13, -13, 18, 23, -28, 31, 34, -45, 48, -161});
  return d;
}
const std::vector<Observation>& nonmaintained() {
  static const auto d = observations({5, 5, 8, 8, 12, -16, 23, 27, 30, 33, 43, 45});
  return d;
}

void expect_rows(const std::vector<Observation>& data, const std::vector<KmRow>& expected) {
  const auto rows = kaplan_meier(data);
  ASSERT_EQ(rows.size(), expected.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto &r = rows[i], &e = expected[i];
    EXPECT_EQ(r.time, e.time);
    EXPECT_EQ(r.at_risk, e.at_risk) << e.time;
    EXPECT_EQ(r.events, e.events) << e.time;
    EXPECT_NEAR(r.survival, e.survival, 5e-8) << e.time;
    ASSERT_EQ(r.se.has_value(), e.se.has_value()) << e.time;
    ASSERT_EQ(r.lower.has_value(), e.lower.has_value()) << e.time;
    if (!e.se) continue;
    EXPECT_NEAR(*r.se, *e.se, 5e-8) << e.time;
    EXPECT_NEAR(*r.lower, *e.lower, 5e-7) << e.time;
    EXPECT_NEAR(*r.upper, *e.upper, 5e-7) << e.time;
  }
}

TEST(KaplanMeier, SixMpAsPublished) {
  expect_rows(six_mp(), {{6, 21, 3, 0.8571429, 0.0763604, 0.619718, 0.951552},
                         {7, 17, 1, 0.8067227, 0.0869353, 0.563147, 0.922809},
                         {10, 15, 1, 0.7529412, 0.0963497, 0.503200, 0.889362},
                         {13, 12, 1, 0.6901961, 0.1068147, 0.431610, 0.849066},
                         {16, 11, 1, 0.6274510, 0.1140539, 0.367511, 0.804912},
                         {22, 7, 1, 0.5378151, 0.1282338, 0.267779, 0.746791},
                         {23, 6, 1, 0.4481793, 0.1345915, 0.188052, 0.680143}});
  const auto m = median(kaplan_meier(six_mp()));
  EXPECT_EQ(m.time, 23.0);
  EXPECT_EQ(m.lower, 13.0);
  EXPECT_FALSE(m.upper);  // not reached
}

TEST(KaplanMeier, PlaceboAsPublishedDownToNobodyLeft) {
  expect_rows(placebo(), {{1, 21, 2, 0.9047619, 0.0640564, 0.670046, 0.975294},
                          {2, 19, 2, 0.8095238, 0.0856891, 0.568905, 0.923889},
                          {3, 17, 1, 0.7619048, 0.0929429, 0.519391, 0.893257},
                          {4, 16, 2, 0.6666667, 0.1028689, 0.425350, 0.825044},
                          {5, 14, 2, 0.5714286, 0.1079898, 0.337977, 0.749241},
                          {8, 12, 4, 0.3809524, 0.1059712, 0.183067, 0.577789},
                          {11, 8, 2, 0.2857143, 0.0985808, 0.116561, 0.481820},
                          {12, 6, 2, 0.1904762, 0.0856891, 0.059482, 0.377435},
                          {15, 4, 1, 0.1428571, 0.0763604, 0.035657, 0.321162},
                          {17, 3, 1, 0.0952381, 0.0640564, 0.016259, 0.261250},
                          {22, 2, 1, 0.0476190, 0.0464714, 0.003324, 0.197045},
                          {23, 1, 1, 0, {}, {}, {}}});
  const auto m = median(kaplan_meier(placebo()));
  EXPECT_EQ(m.time, 8.0);
  EXPECT_EQ(m.lower, 4.0);
  EXPECT_EQ(m.upper, 11.0);
}

TEST(KaplanMeier, AmlMaintainedAsPublished) {
  expect_rows(maintained(), {{9, 11, 1, 0.9090909, 0.0866784, 0.508080, 0.986674},
                             {13, 10, 1, 0.8181818, 0.1162913, 0.447429, 0.951162},
                             {18, 8, 1, 0.7159091, 0.1396650, 0.350190, 0.899024},
                             {23, 7, 1, 0.6136364, 0.1526323, 0.265752, 0.835299},
                             {31, 5, 1, 0.4909091, 0.1641933, 0.167331, 0.753400},
                             {34, 4, 1, 0.3681818, 0.1626689, 0.092830, 0.657041},
                             {48, 2, 1, 0.1840909, 0.1534927, 0.011738, 0.525015}});
  const auto m = median(kaplan_meier(maintained()));
  EXPECT_EQ(m.time, 31.0);
  EXPECT_EQ(m.lower, 13.0);
  EXPECT_FALSE(m.upper);
}

TEST(KaplanMeier, NothingSeenIsNoCurve) {
  EXPECT_TRUE(kaplan_meier({}).empty());
  EXPECT_TRUE(kaplan_meier(observations({-3, -5})).empty());
  EXPECT_FALSE(median({}).time);
}

TEST(LogRank, AsPublished) {
  const std::vector<std::vector<Observation>> trial{six_mp(), placebo()};
  const auto t = log_rank(trial);
  EXPECT_EQ(t.df, 1);
  EXPECT_EQ(t.observed, (std::vector<double>{9, 21}));
  EXPECT_NEAR(t.expected[0], 19.250501, 5e-7);
  EXPECT_NEAR(t.expected[1], 10.749499, 5e-7);
  EXPECT_NEAR(t.chi_square, 16.792941, 5e-7);
  EXPECT_NEAR(t.p, 4.168809e-05, 5e-12);

  const std::vector<std::vector<Observation>> aml{maintained(), nonmaintained()};
  const auto a = log_rank(aml);
  EXPECT_EQ(a.observed, (std::vector<double>{7, 11}));
  EXPECT_NEAR(a.expected[0], 10.689336, 5e-7);
  EXPECT_NEAR(a.expected[1], 7.310664, 5e-7);
  EXPECT_NEAR(a.chi_square, 3.3963887, 5e-8);
  EXPECT_NEAR(a.p, 0.0653393, 5e-8);
}

TEST(LogRank, HasNothingToSayOfOneGroupOrNoEvents) {
  using Groups = std::vector<std::vector<Observation>>;
  EXPECT_EQ(log_rank(Groups{}).df, 0);
  EXPECT_EQ(log_rank(Groups{six_mp()}).df, 0);
  EXPECT_EQ(log_rank(Groups{observations({-1, -2}), observations({-3})}).df, 0);
  // An empty group, or one gone before the first event, does not count.
  EXPECT_EQ(log_rank(Groups{six_mp(), placebo(), {}, observations({-0.5})}).df, 1);
  EXPECT_NEAR(log_rank(Groups{six_mp(), placebo(), {}}).chi_square, 16.792941, 5e-7);
}

TEST(Wilson, AsPublished) {
  const struct {
    int x, n;
    double lower, upper;
  } rows[] = {{0, 10, 0.00000000, 0.27753280},   {1, 29, 0.00611321, 0.17175522},
              {0, 20, 0.00000000, 0.16112516},   {5, 148, 0.01451509, 0.07664221},
              {15, 148, 0.06238640, 0.16048724}, {81, 263, 0.25528852, 0.36620958},
              {8, 10, 0.49016247, 0.94331785},   {10, 10, 0.72246720, 1.00000000},
              {3, 50, 0.02061497, 0.16217092},   {2, 100, 0.00550197, 0.07001179}};
  for (const auto& r : rows) {
    const auto w = wilson(r.x, r.n);
    EXPECT_NEAR(w.lower, r.lower, 1e-8) << r.x << "/" << r.n;
    EXPECT_NEAR(w.upper, r.upper, 1e-8) << r.x << "/" << r.n;
  }
  EXPECT_EQ(wilson(0, 0).upper, 1);
}

}  // namespace
}  // namespace hb::comebacks
