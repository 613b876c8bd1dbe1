#include <gtest/gtest.h>

#include <cmath>
#include <string>
#include <vector>

#include "checks/kernel/isotonic.hpp"
#include "checks/kernel/line_fit.hpp"
#include "checks/kernel/summary.hpp"

namespace hb::kernel {
namespace {

struct IsotonicRow {
  std::string name;
  std::vector<double> y, weights, fit;
};
class Isotonic : public testing::TestWithParam<IsotonicRow> {};
TEST_P(Isotonic, EqualsTheOutsideFit) {
  const auto& row = GetParam();
  const auto fit = isotonic(row.y, row.weights);
  ASSERT_EQ(fit.size(), row.fit.size());
  for (std::size_t i = 0; i < fit.size(); ++i) EXPECT_NEAR(fit[i], row.fit[i], 1e-14) << "at " << i;
}
INSTANTIATE_TEST_SUITE_P(
    Rows, Isotonic,
    testing::Values(
        // R 4.2.2 isoreg
        IsotonicRow{"OneLongBlock", {1, 0, 4, 3, 3, 5, 4, 2, 0}, {}, {0.5, 0.5, 3, 3, 3, 3, 3, 3, 3}},
        IsotonicRow{"SeveralBlocks",
                    {1, 2, 3, 3, 1, 6, 7, 8, 11, 9, 10, 12, 14, 15, 15, 13},
                    {},
                    {1, 2, 7. / 3, 7. / 3, 7. / 3, 6, 7, 8, 10, 10, 10, 12, 14, 43. / 3, 43. / 3, 43. / 3}},
        // R 4.2.2 isoreg on the values repeated as often as their weight
        IsotonicRow{"WeightsCountAsRepeats", {3, 1, 4, 2, 6}, {2, 1, 3, 2, 1}, {7. / 3, 7. / 3, 3.2, 3.2, 6}},
        IsotonicRow{"FallingMeansConstant", {3, 2, 1}, {}, {2, 2, 2}}, IsotonicRow{"Empty", {}, {}, {}}),
    [](const auto& row) { return row.param.name; });

TEST(IsotonicArguments, WrongWeightsAreABrokenPromise) {
  const std::vector<double> y{1, 2}, one{1}, zero{1, 0};
  EXPECT_THROW((void)isotonic(y, one), std::invalid_argument);
  EXPECT_THROW((void)isotonic(y, zero), std::invalid_argument);
}

TEST(MonotoneResidual, IsZeroForARisingSequenceAndTheHandValueForOneSwap) {
  const std::vector<double> rising{1, 2, 2, 5}, swapped{1, 3, 2, 5};
  EXPECT_EQ(monotone_residual_rms(rising), 0);
  EXPECT_NEAR(monotone_residual_rms(swapped), std::sqrt(0.5 / 4), 1e-15);  // block {3,2} -> 2.5
}

// NIST StRD, linear regression, Norris: data and certified values.
const std::vector<double> kNorrisX{0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                   777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                                   556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                                   887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
const std::vector<double> kNorrisY{0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                   778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                                   557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                                   888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};

void expect_relative(double got, double want, double tolerance) {
  EXPECT_LE(std::abs(got / want - 1), tolerance) << "got " << got << ", want " << want;
}

TEST(LineFitNist, NorrisToItsCertifiedDigits) {
  const auto f = fit_line(kNorrisX, kNorrisY);
  ASSERT_TRUE(f);
  expect_relative(f->intercept, -0.262323073774029, 1e-11);
  expect_relative(f->slope, 1.00211681802045, 1e-13);
  expect_relative(f->u_intercept, 0.232818234301152, 1e-8);
  expect_relative(f->u_slope, 0.429796848199937E-03, 1e-8);
  expect_relative(f->residual_sd, 0.884796396144373, 1e-10);
  expect_relative(f->r_squared, 0.999993745883712, 1e-13);
  expect_relative(f->residual_ss, 26.6173985294224, 1e-9);
}

TEST(LineFitRefuses, TooFewSameXAndNotFinite) {
  const std::vector<double> two{1, 2}, same{1, 1, 1}, y{1, 2, 3}, bad{1, NAN, 3};
  EXPECT_FALSE(fit_line(two, two));
  EXPECT_FALSE(fit_line(same, y));
  EXPECT_FALSE(fit_line(y, bad));
  EXPECT_FALSE(fit_line(y, two));
}

TEST(TotalLine, AgreesWithPrincipalComponentsOfR) {
  const std::vector<Point> p{{0, 0.1}, {1, 0.9}, {2, 2.2}, {3, 2.8}, {4, 4.1}};
  const auto line = fit_total_line(p);
  ASSERT_TRUE(line);
  // R 4.2.2 prcomp: rotation of PC1; sqrt(sum(PC2^2) / (n - 2))
  EXPECT_NEAR(line->dx, 0.7087476329729582, 1e-12);
  EXPECT_NEAR(line->dy, 0.7054621129126843, 1e-12);
  EXPECT_NEAR(line->rms, 0.1340312549245375, 1e-12);
}

TEST(TotalLine, AVerticalStrokeIsAsGoodAsAnyOther) {
  const std::vector<Point> p{{2, 0}, {2, 1}, {2, 5}};
  const auto line = fit_total_line(p);
  ASSERT_TRUE(line);
  EXPECT_NEAR(std::abs(line->dy), 1, 1e-15);
  EXPECT_NEAR(line->rms, 0, 1e-15);
  const std::vector<Point> dot{{1, 1}, {1, 1}, {1, 1}};
  EXPECT_FALSE(fit_total_line(dot));
}

struct NumAccRow {
  std::string name;
  double first, low, high;
  double mean, sd, autocorrelation, tolerance;
};
class NumAcc : public testing::TestWithParam<NumAccRow> {};
TEST_P(NumAcc, HoldsInDoublePrecision) {
  const auto& r = GetParam();
  std::vector<double> v{r.first};
  for (int i = 0; i < 500; ++i) v.push_back(r.low), v.push_back(r.high);
  expect_relative(mean(v), r.mean, 1e-15);
  expect_relative(standard_deviation(v), r.sd, r.tolerance);
  expect_relative(lag1_autocorrelation(v), r.autocorrelation, 1e-8 + r.tolerance);
}
// NIST StRD, univariate summary statistics, NumAcc2..4: certified mean, sd, autocorrelation.
INSTANTIATE_TEST_SUITE_P(
    Nist, NumAcc,
    testing::Values(NumAccRow{"NumAcc2", 1.2, 1.1, 1.3, 1.2, 0.1, -0.999, 1e-14},
                    NumAccRow{"NumAcc3", 1000000.2, 1000000.1, 1000000.3, 1000000.2, 0.1, -0.999, 1e-9},
                    NumAccRow{"NumAcc4", 10000000.2, 10000000.1, 10000000.3, 10000000.2, 0.1, -0.999, 1e-8}),
    [](const auto& row) { return row.param.name; });

TEST(Summary, NumAcc1IsExact) {  // NIST StRD NumAcc1
  const std::vector<double> v{10000001, 10000003, 10000002};
  EXPECT_EQ(mean(v), 10000002);
  EXPECT_EQ(standard_deviation(v), 1);
  EXPECT_EQ(lag1_autocorrelation(v), -0.5);
}

TEST(Summary, QuantilesAndDeviationAsInR) {  // R 4.2.2 quantile (type 7), mad(constant = 1)
  const std::vector<double> y{1.2, 0.9, 2.2, 1.7, 3, 2.8};
  const std::vector<std::pair<double, double>> rows{{0, 0.9},    {0.1, 1.05}, {0.25, 1.325},
                                                    {0.5, 1.95}, {0.9, 2.9},  {1, 3}};
  for (const auto& [p, want] : rows) EXPECT_NEAR(quantile(y, p), want, 1e-14) << p;
  EXPECT_NEAR(median_absolute_deviation(y), 0.8, 1e-14);
}

TEST(Summary, NothingGivesNotANumberNeverAZeroThatLooksMeasured) {
  const std::vector<double> none;
  EXPECT_TRUE(std::isnan(mean(none)));
  EXPECT_TRUE(std::isnan(median(none)));
  EXPECT_TRUE(std::isnan(standard_deviation(none)));
  EXPECT_TRUE(std::isnan(median_uncertainty(none)));
}

TEST(TheilSenSlope, IgnoresTheOutlierAsSciPyDoes) {
  // SciPy 1.10.1 theilslopes, alpha 0.95
  const std::vector<double> x{1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
  const std::vector<double> y{1.1, 2.3, 2.9, 4.2, 4.8, 6.1, 7.2, 7.8, 9.3, 30.0};
  const auto t = theil_sen(x, y);
  ASSERT_TRUE(t);
  EXPECT_NEAR(t->slope, 1.025, 1e-12);
  EXPECT_NEAR(t->intercept, -0.1875, 1e-12);
  EXPECT_NEAR(t->slope_low, 0.95, 1e-12);
  EXPECT_NEAR(t->slope_high, 1.30, 1e-12);
  EXPECT_NEAR(fit_line(x, y)->slope, 2.0842424, 5e-8);  // least squares for contrast
  const std::vector<double> same(10, 1.0);
  EXPECT_FALSE(theil_sen(same, y));
}

}  // namespace
}  // namespace hb::kernel
