// Motion sensors against a small model: gravity on six faces, seen through offset, scale, tilt and noise.
// Expected values are the model's own parameters; g = 9.80665 m/s^2 (3rd CGPM, 1901).
#include "checks/motion/motion.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;
using testing::ElementsAre;

constexpr double kG = 9.80665;
using Axes = std::array<double, 3>;

struct Sensor {
  Axes offset{}, scale{1, 1, 1}, bias_rad_s{};
  double noise = 0.02, tilt_rad = 0, place = kG;
  int swapped = 0;  ///< this face is laid upside down
  bool gyroscope = true;

  [[nodiscard]] Axes felt(int face) const {
    const auto axis = static_cast<std::size_t>(2 - (face - 1) / 2);
    const double up = (face % 2 == 1) != (face == swapped) ? 1 : -1;
    Axes g{};
    g[axis] = up * std::cos(tilt_rad);
    g[(axis + 1) % 3] = up * std::sin(tilt_rad);
    for (std::size_t i = 0; i < 3; ++i) g[i] = scale[i] * place * g[i] + offset[i];
    return g;
  }
};

Motion::Capture capture_of(const Sensor& s) {
  fakes::Noise noise(7);
  Motion::Capture c;
  double t = 100;
  for (const int face : {2, 3, 4, 5, 6, 1}) {
    Motion::Face f{face, {}, {}};
    for (int i = 0; i < 50; ++i, t += 0.02) {
      Axes a = s.felt(face);
      for (double& v : a) v += s.noise * noise();
      f.accelerometer.push_back({t, a});
      if (s.gyroscope) f.gyroscope.push_back({t, s.bias_rad_s});
    }
    c.faces.push_back(std::move(f));
  }
  return c;
}

std::vector<Limit> limits() {
  const auto o = LimitOrigin::common_practice;
  return {{"motion.gravity_error_ms2", {}, {}, 0.8, o}, {"motion.offset_ms2", {}, -0.6, 0.6, o},
          {"motion.response", {}, 0.95, 1.05, o},       {"motion.cross_axis_pct", {}, {}, 10.0, o},
          {"motion.noise_ms2", {}, {}, 0.2, o},         {"motion.gyro_bias_deg_s", {}, -2.0, 2.0, o}};
}

TEST(MotionMeasure, FindsTheModelsOwnParameters) {
  Sensor s;
  s.offset = {0.12, -0.30, 0.25}, s.scale = {1.01, 0.985, 1.0}, s.bias_rad_s = {0.01, 0, -0.02};
  const auto m = Motion::measure(capture_of(s), {});
  ASSERT_TRUE(m) << m.error().message();
  const char* names[] = {"x", "y", "z"};
  for (std::size_t i = 0; i < 3; ++i) {
    const auto* offset = find(*m, "motion.offset_ms2", names[i]);
    EXPECT_NEAR(offset->value, s.offset[i], 3 * offset->u) << names[i];
    const auto* response = find(*m, "motion.response", names[i]);
    EXPECT_NEAR(response->value, s.scale[i], 3 * response->u) << names[i];
    EXPECT_LT(response->u, 0.01);
    EXPECT_NEAR(find(*m, "motion.gyro_bias_deg_s", names[i])->value, s.bias_rad_s[i] * 57.29577951, 1e-6);
  }
  EXPECT_NEAR(find(*m, "motion.noise_ms2")->value, 0.02, 0.002);
  EXPECT_EQ(find(*m, "motion.events")->value, 300);
}

TEST(MotionMeasure, ATiltedBoardShowsAsCrossAxisNotAsOffset) {
  Sensor s;
  s.tilt_rad = 0.10;  // 9.98 % by sine
  const auto m = Motion::measure(capture_of(s), {});
  ASSERT_TRUE(m);
  EXPECT_NEAR(find(*m, "motion.cross_axis_pct", "z")->value, 100 * std::sin(0.10), 0.2);
  EXPECT_NEAR(find(*m, "motion.offset_ms2", "z")->value, 0, 0.02);
  EXPECT_NEAR(find(*m, "motion.gravity_error_ms2")->value, 0, 0.03);
}

struct Row {
  const char* name;
  std::function<void(Sensor&)> change;
  Outcome outcome;
  std::vector<std::string> named;
};
class MotionTable : public testing::TestWithParam<Row> {};
TEST_P(MotionTable, IsJudgedAndNamed) {
  Sensor s;
  GetParam().change(s);
  const auto c = capture_of(s);
  const auto r = fakes::judge<Motion>(c, {}, limits());
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::named(r->findings), GetParam().named);
  EXPECT_EQ(nlohmann::json(c).get<Motion::Capture>(), c) << "the journal keeps all of it";
}
INSTANTIATE_TEST_SUITE_P(
    Situations, MotionTable,
    testing::Values(
        Row{"healthy", [](Sensor&) {}, Outcome::pass, {}},
        Row{"at_the_pole", [](Sensor& s) { s.place = 9.832; }, Outcome::pass, {}},
        Row{"offset_on_z", [](Sensor& s) { s.offset[2] = 2; }, Outcome::fail, {"accelerometer_offset z"}},
        Row{"wrong_scale_on_x",
            [](Sensor& s) { s.scale[0] = 1.1; },
            Outcome::fail,
            {"accelerometer_offset x"}},
        Row{"dead_axis", [](Sensor& s) { s.scale[1] = 0; }, Outcome::fail, {"axis_dead y"}},
        Row{"axis_stuck_at_its_end",
            [](Sensor& s) {
              s.scale[0] = 0;
              s.offset[0] = 5;
            },
            Outcome::fail,
            {"axis_dead x"}},
        Row{"turns_at_rest", [](Sensor& s) { s.bias_rad_s[1] = 0.10; }, Outcome::fail, {"gyro_biased y"}},
        Row{"trembles", [](Sensor& s) { s.noise = 0.5; }, Outcome::fail, {"not_at_rest "}},
        Row{"face_laid_upside_down", [](Sensor& s) { s.swapped = 3; }, Outcome::not_tested, {}},
        Row{"gyroscope_silent", [](Sensor& s) { s.gyroscope = false; }, Outcome::not_tested, {}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(MotionMeasure, AFaceThatIsMissingOrTornIsRefused) {
  auto c = capture_of({});
  c.faces.pop_back();
  EXPECT_EQ(Motion::measure(c, {}).error().code, ErrorCode::bad_format);
  c = capture_of({});
  c.faces[0].face = 9;
  EXPECT_EQ(Motion::measure(c, {}).error().code, ErrorCode::bad_format);
  c = capture_of({});
  c.faces[2].accelerometer.resize(4);
  EXPECT_EQ(Motion::measure(c, {}).error().code, ErrorCode::unsupported);
}

// ---------------------------------------------------------------------------------- acquiring

struct MotionBench : Bench {
  Sensor sensor;
  int face = 1;
  double still_since_s = 0;
  bool listed = true, masked = false, silent = false;
  MotionBench() {
    hands.on_begin = [this](const Action& action) {
      face = static_cast<int>(std::get<LayOnFace>(action).up);
      still_since_s = time.s + 1;
    };
    phone.on_sensor_type = [this](int type) -> Result<phone::SensorReading> {
      phone::SensorReading r;
      r.listed = listed, r.masked = masked;
      if (silent || masked) return r;
      for (int i = 9; i >= 0; --i) {
        const double t = std::floor(time.s / 0.02) * 0.02 - 0.02 * i;
        const bool moving = t < still_since_s;
        const Axes a = moving ? Axes{30, 30, 30} : sensor.felt(face);
        r.events.push_back(
            {t, type == 1 ? std::vector<double>(a.begin(), a.end()) : std::vector<double>{0, 0, 0}});
      }
      return r;
    };
  }
};

TEST(MotionAcquire, ListensOnEachFaceOnlyWhileThePhoneLiesStill) {
  MotionBench b;
  const auto c = fakes::run(Motion{}.acquire(b.context, {}));
  ASSERT_TRUE(c) << c.error().message();
  std::vector<int> order;
  for (const auto& f : c->faces) {
    order.push_back(f.face);
    EXPECT_GT(f.accelerometer.size(), 60u);
    EXPECT_GT(f.gyroscope.size(), 60u);
    for (const auto& s : f.accelerometer) EXPECT_LT(s.value[0], 20) << "an event from before it lay still";
  }
  EXPECT_THAT(order, ElementsAre(2, 3, 4, 5, 6, 1));
  const auto m = Motion::measure(*c, {});
  ASSERT_TRUE(m);
  EXPECT_NEAR(find(*m, "motion.response", "x")->value, 1, 1e-6);
}

TEST(MotionAcquire, ASilentSensorIsNotExercisedNeverDead) {
  MotionBench b;
  b.silent = true;
  const auto c = fakes::run(Motion{}.acquire(b.context, {}));
  ASSERT_FALSE(c);
  EXPECT_EQ(c.error().code, ErrorCode::unsupported);
  EXPECT_NE(c.error().what.find("not exercised"), std::string::npos);
  EXPECT_EQ(b.hands.actions.size(), 1u) << "one face is enough to know";
}

TEST(MotionAcquire, NoSensorOrHiddenValuesAskForNothing) {
  for (const bool masked : {false, true}) {
    MotionBench b;
    b.listed = masked, b.masked = masked;
    EXPECT_EQ(fakes::run(Motion{}.acquire(b.context, {})).error().code, ErrorCode::unsupported);
    EXPECT_TRUE(b.hands.actions.empty());
  }
}

TEST(MotionAcquire, HandsThatNeverFinishAreToldToStop) {
  MotionBench b;
  b.hands.seconds = [](const Action&) { return 1e6; };
  EXPECT_EQ(fakes::run(Motion{}.acquire(b.context, {})).error().code, ErrorCode::timed_out);
  EXPECT_EQ(b.hands.enoughs, 1);
}
}  // namespace
}  // namespace hb::checks
