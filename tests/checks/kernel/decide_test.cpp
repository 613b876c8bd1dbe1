#include "checks/kernel/decide.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace hb::kernel {
namespace {

struct Row {
  std::string name;
  double value, u;
  std::optional<double> lower, upper;
  Decision decision;
  double outside;
};
class Decide : public testing::TestWithParam<Row> {};
TEST_P(Decide, ByTheGuardBand) {
  const auto& r = GetParam();
  const auto d = decide(r.value, r.u, r.lower, r.upper);
  EXPECT_EQ(static_cast<int>(d.decision), static_cast<int>(r.decision));
  EXPECT_NEAR(d.outside_probability, r.outside, 1e-12);
}
constexpr auto none = std::nullopt;
// Probabilities: R 4.2.2 pnorm; pnorm(-1.645) = 1 - 0.950015094460879.
INSTANTIATE_TEST_SUITE_P(
    Rows, Decide,
    testing::Values(Row{"OnTheLowerLimit", 10, 2, 10, none, Decision::open, 0.5},
                    Row{"OneGuardBandInside", 10 + 1.645 * 2, 2, 10, none, Decision::accept,
                        0.049984905539121},
                    Row{"AHairLessThanTheGuardBand", 13.28, 2, 10, none, Decision::open, 0.050502583474104},
                    Row{"OneSigmaInsideTheUpper", 8, 2, none, 10, Decision::open, 0.158655253931457},
                    Row{"TwoAndAHalfSigmaInside", 5, 2, none, 10, Decision::accept, 0.00620966532577613},
                    Row{"TwoSigmaOutside", 14, 2, none, 10, Decision::reject, 0.977249868051821},
                    Row{"BothSidesAdd", 0, 1, -1.0, 1.0, Decision::open, 2 * 0.158655253931457},
                    Row{"ExactCountInside", 3, 0, none, 3, Decision::accept, 0},
                    Row{"ExactCountOutside", 4, 0, none, 3, Decision::reject, 1}),
    [](const auto& row) { return row.param.name; });

TEST(DecideRefuses, WhatIsNoMeasurement) {
  for (const auto& [v, u] : {std::pair{NAN, 1.0}, {1.0, NAN}, {1.0, -1.0}, {INFINITY, 1.0}})
    EXPECT_EQ(static_cast<int>(decide(v, u, 0.0, 2.0).decision), static_cast<int>(Decision::reject));
}

}  // namespace
}  // namespace hb::kernel
