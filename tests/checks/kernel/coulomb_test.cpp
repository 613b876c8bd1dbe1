#include "checks/kernel/coulomb.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace hb::kernel {
namespace {

TEST(Charge, ConstantCurrentIsCurrentTimesTime) {
  const std::vector<CurrentSample> s{{0, 1500}, {400, 1500}, {1200, 1500}};
  const auto c = charge_mah(s);
  ASSERT_TRUE(c);
  EXPECT_NEAR(c->mah, 500, 1e-12);  // 1.5 A for 1200 s (arithmetic)
  EXPECT_EQ(c->u_mah, 0);
}

TEST(Charge, ARampIsExactForTheTrapezoid) {
  std::vector<CurrentSample> s;
  for (int i = 0; i <= 36; ++i) s.push_back({100.0 * i, 2000.0 * i / 36});
  EXPECT_NEAR(charge_mah(s)->mah, 1000, 1e-10);  // 0 -> 2 A over 3600 s (arithmetic)
}

TEST(Charge, UncertaintyGrowsWithOffsetNoiseAndMissedBends) {
  std::vector<CurrentSample> s;
  for (int i = 0; i <= 100; ++i) s.push_back({static_cast<double>(i), 1000});
  EXPECT_NEAR(charge_mah(s, 0, 36)->u_mah, 36.0 * 100 / 3600, 1e-12);
  EXPECT_NEAR(charge_mah(s, 36, 0)->u_mah, 36.0 * std::sqrt(99.5) / 3600, 1e-12);
  for (auto& p : s) p.current_ma += 500 * std::sin(p.t_s);
  EXPECT_GT(charge_mah(s)->u_mah, 0);
}

TEST(Charge, TornInputsAreRefused) {
  const std::vector<CurrentSample> one{{0, 1}}, back{{1, 1}, {0, 1}}, twice{{1, 1}, {1, 2}},
      bad{{0, NAN}, {1, 1}};
  for (const auto& s : {one, back, twice, bad}) EXPECT_FALSE(charge_mah(s));
}

TEST(StepResistance, TheWorkedNumberOfTheDcMethod) {
  // IEC 61960 DC method: 2000 mAh, 0.4 A 3.850 V, then 2.0 A 3.730 V -> 75.0 mOhm (arithmetic)
  const auto r = step_resistance({3850, -400, 1, 2}, {3730, -2000, 1, 2});
  ASSERT_TRUE(r);
  EXPECT_NEAR(r->mohm, 75.0, 1e-10);
  const double want = 1000 * std::hypot(std::sqrt(2.0) / 1600, 0.075 * std::sqrt(8.0) / 1600);
  EXPECT_NEAR(r->u_mohm, want, 1e-9);
  EXPECT_FALSE(step_resistance({3850, -400, 1, 2}, {3730, -400, 1, 2}));
}

TEST(SteadyState, RoundingStaysWhenThereIsNoScatter) {
  const std::vector<double> v{3800, 3800, 3800}, i{-300, -300, -300};
  const auto t = steady_state(v, i);
  ASSERT_TRUE(t);
  EXPECT_NEAR(t->u_voltage_mv, 1 / std::sqrt(12.0), 1e-15);
  EXPECT_FALSE(steady_state(v, {}));
}

TEST(Ocv, InverseUndoesTheCurveAndSaysWhenItIsOutside) {
  const auto c = OcvCurve::from({0, 0.5, 1}, {3.3, 3.8, 4.3});
  ASSERT_TRUE(c);
  for (const double s : {0.0, 0.2, 0.5, 0.77, 1.0}) {
    const auto back = c->soc(c->volts(s));
    EXPECT_NEAR(back.soc, s, 1e-12);
    EXPECT_FALSE(back.outside);
    EXPECT_NEAR(back.volts_per_soc, 1.0, 1e-12);
  }
  EXPECT_TRUE(c->soc(4.4).outside);
  EXPECT_EQ(c->soc(4.4).soc, 1.0);
  EXPECT_FALSE(OcvCurve::from({0, 1}, {3.8, 3.8}));
  EXPECT_FALSE(OcvCurve::from({0, 0}, {3.8, 3.9}));
  EXPECT_FALSE(OcvCurve::from({0}, {3.8}));
}

TEST(CircuitLaw, WorkedNumbers) {
  EXPECT_NEAR(capacity_mah(1500, 0, 0.2, 0.8, 0)->mah, 2500, 1e-9);  // arithmetic
  EXPECT_FALSE(capacity_mah(1500, 0, 0.5, 0.5, 0));
  EXPECT_NEAR(balance_current_ma(4050, 4000, 60, 60), 417, 0.5);  // 50 mV over 2 x 60 mOhm
  EXPECT_NEAR(parallel_share(95, 140), 140.0 / 235, 1e-15);
}

}  // namespace
}  // namespace hb::kernel
