// The vibration motor against a small one: a sine in the accelerometer while it is started.
#include "checks/vibration/vibration.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <numbers>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;

struct Motor : Bench {
  double hz = 170, shake = 2, noise = 0.03, period_s = 0.02, knock = 0;
  bool silent_sensor = false;
  std::optional<bool> feels = true;
  int asked = 0;
  double until_s = 0;
  Vibration::Config config{168, 3};
  Motor() {
    phone.on_vibrate = [this](int ms) { until_s = time.s + ms / 1000.0; };
    phone.on_sensor_type = [this](int) -> Result<phone::SensorReading> {
      phone::SensorReading r;
      r.listed = true;
      for (int i = 9; i >= 0 && !silent_sensor; --i) {
        const double t = std::floor(time.s / period_s) * period_s - period_s * i;
        fakes::Noise n(static_cast<std::uint64_t>(std::llround(t * 1000)));
        const bool on = t < until_s && t > until_s - 0.9;
        const double a = on ? shake * std::sin(2 * std::numbers::pi * hz * t) : 0;
        const double k = on ? knock * n() : 0;
        r.events.push_back({t, {noise * n() + 0.8 * a + k, noise * n() + k, 9.81 + 0.6 * a + noise * n()}});
      }
      return r;
    };
    hands.on_observe = [this](const Question& q) -> Result<double> {
      EXPECT_EQ(q.inspection, Inspection::buzzed);
      ++asked;
      if (!feels) return Error{ErrorCode::unsupported, "nobody is here", "", ""};
      return *feels ? 1 : 0;
    };
  }
};

std::vector<Limit> limits() {
  return {{"vibration.silent_bursts", {}, {}, 0.0, LimitOrigin::common_practice}};
}

struct Row {
  const char* name;
  std::function<void(Motor&)> change;
  Outcome outcome;
  int asked;
  std::vector<std::string> named;
};
class VibrationTable : public testing::TestWithParam<Row> {};
TEST_P(VibrationTable, IsJudgedAndNamed) {
  Motor b;
  GetParam().change(b);
  const auto c = fakes::run(Vibration{}.acquire(b.context, b.config));
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_EQ(b.asked, GetParam().asked);
  EXPECT_EQ(nlohmann::json(*c).get<Vibration::Capture>(), *c) << "the journal keeps all of it";
  const auto r = fakes::judge<Vibration>(*c, b.config, limits());
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::finding_ids(r->findings), GetParam().named);
}
INSTANTIATE_TEST_SUITE_P(
    Situations, VibrationTable,
    testing::Values(
        Row{"healthy", [](auto&) {}, Outcome::pass, 0, {}},
        Row{"fast_sensor", [](auto& b) { b.period_s = 0.0125; }, Outcome::pass, 0, {}},
        Row{"dead", [](auto& b) { b.shake = 0, b.feels = false; }, Outcome::fail, 1, {"motor_silent"}},
        Row{"smoothed_away_but_felt", [](auto& b) { b.shake = 0.01; }, Outcome::pass, 1, {}},
        Row{"not_seen_and_nobody_to_ask",
            [](auto& b) { b.shake = 0, b.feels.reset(); },
            Outcome::not_tested,
            1,
            {}},
        Row{"knocks_against_the_bench_are_no_motor",
            [](auto& b) { b.shake = 0, b.knock = 1, b.feels = false; },
            Outcome::fail,
            1,
            {"motor_silent"}},
        Row{"a_slow_sway_is_no_motor",
            [](auto& b) { b.hz = 4, b.feels = false; },
            Outcome::fail,
            1,
            {"motor_silent"}},
        Row{"silent_sensor_but_felt", [](auto& b) { b.silent_sensor = true; }, Outcome::pass, 1, {}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(VibrationMeasure, FindsTheModelsShaking) {
  Motor b;
  const auto m = Vibration::measure(fakes::run(Vibration{}.acquire(b.context, b.config)).value(), b.config);
  EXPECT_NEAR(find(*m, "vibration.shake_ms2")->value, 2 / std::sqrt(2.0), 0.1);
  EXPECT_GT(find(*m, "vibration.line_share")->value, 0.95);
  EXPECT_NEAR(find(*m, "vibration.rest_ms2")->value, 0.03 * std::sqrt(3.0), 0.01);
  EXPECT_EQ(find(*m, "vibration.observed_felt"), nullptr) << "nobody was asked";
}

TEST(VibrationMeasure, NoiseAloneDoesNotLookLikeAMotor) {
  double most = 0;
  for (int seed = 1; seed <= 50; ++seed) {
    fakes::Noise n(static_cast<std::uint64_t>(seed));
    Vibration::Capture c;
    c.bursts.resize(1);
    for (int i = 0; i < 35; ++i) {
      c.rest.push_back({i * 0.02, {0, 0, 9.8}});
      c.bursts[0].push_back({5 + i * 0.02, {n(), n(), n()}});
    }
    most = std::max(most, Vibration::shakes(c, {168, 1})[0]->line_share);
  }
  EXPECT_LT(most, 0.4);
  EXPECT_GT(most, 0.1);
}

TEST(VibrationAcquire, WithoutACommandForTheMotorItIsNotTested) {
  Motor b;
  b.phone.on_vibrate = nullptr;
  EXPECT_EQ(fakes::run(Vibration{}.acquire(b.context, b.config)).error().code, ErrorCode::unsupported);
}

TEST(VibrationMeasure, ATornCaptureIsRefused) {
  EXPECT_EQ(Vibration::measure({}, {168, 3}).error().code, ErrorCode::bad_format);
}
}  // namespace
}  // namespace hb::checks
