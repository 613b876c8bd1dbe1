// Small sensors against a room with a lamp and a finger.
#include "checks/presence/presence.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;

struct Room : Bench {
  double lux = 300, through = 0.01;
  bool light_listed = true, proximity_listed = true, silent = false;
  std::optional<int> lights = 1;
  Result<int> readers = 1;
  double covered_since_s = 1e18, uncovered_since_s = 0;
  Presence::Config config;
  Room() {
    config.sensors = {{Term("light sensor"), 5, true}, {Term("proximity sensor"), 8, false}};
    config.camera_light = config.fingerprint = true;
    hands.on_begin = [this](const Action& a) {
      covered_since_s = std::holds_alternative<CoverTop>(a) ? time.s + 0.9 : 1e18;
    };
    phone.on_sensor_type = [this](int type) -> Result<phone::SensorReading> {
      phone::SensorReading r;
      r.listed = type == 5 ? light_listed : proximity_listed;
      for (int i = 9; i >= 0 && type == 5 && light_listed && !silent; --i) {
        const double t = std::floor(time.s / 0.2) * 0.2 - 0.2 * i;
        r.events.push_back({t, {lux * (t >= covered_since_s ? through : 1)}});
      }
      return r;
    };
    phone.on_fingerprint_readers = [this] { return readers; };
    phone.on_cameras = [this]() -> Result<phone::CameraCount> {
      if (!lights) return Error{ErrorCode::unsupported, "not told", "", ""};
      phone::CameraCount c;
      c.with_light = *lights;
      return c;
    };
  }
};

Error not_told(ErrorCode code) { return {code, "not told", "", ""}; }

std::vector<Limit> limits() {
  const auto o = LimitOrigin::common_practice;
  return {{"presence.listed", {}, 1.0, {}, o},
          {"presence.open_value", {}, 50.0, {}, o},
          {"presence.covered_share", {}, {}, 0.3, o},
          {"presence.camera_lights", {}, 1.0, {}, o},
          {"presence.fingerprint_readers", {}, 1.0, {}, o}};
}

struct Row {
  const char* name;
  std::function<void(Room&)> change;
  Outcome outcome;
  std::vector<std::string> named;
};
class PresenceTable : public testing::TestWithParam<Row> {};
TEST_P(PresenceTable, IsJudgedAndNamed) {
  Room b;
  GetParam().change(b);
  const auto c = fakes::run(Presence{}.acquire(b.context, b.config));
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_EQ(nlohmann::json(*c).get<Presence::Capture>(), *c) << "the journal keeps all of it";
  const auto r = fakes::judge<Presence>(*c, b.config, limits());
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::named(r->findings), GetParam().named);
}
INSTANTIATE_TEST_SUITE_P(
    Situations, PresenceTable,
    testing::Values(
        Row{"healthy", [](auto&) {}, Outcome::pass, {}},
        Row{"film_over_the_sensor",
            [](auto& b) { b.lux = 8; },
            Outcome::fail,
            {"light_sensor_blocked light sensor"}},
        Row{"does_not_see_the_finger",
            [](auto& b) { b.through = 0.9; },
            Outcome::fail,
            {"light_sensor_blocked light sensor"}},
        Row{"proximity_not_listed",
            [](auto& b) { b.proximity_listed = false; },
            Outcome::fail,
            {"sensor_not_listed proximity sensor"}},
        Row{"light_not_listed",
            [](auto& b) { b.light_listed = false; },
            Outcome::fail,
            {"sensor_not_listed light sensor"}},
        Row{"no_camera_light", [](auto& b) { b.lights = 0; }, Outcome::fail, {"camera_light_not_listed "}},
        Row{"fingerprint_reader_not_listed",
            [](auto& b) { b.readers = 0; },
            Outcome::fail,
            {"fingerprint_reader_not_listed "}},
        Row{"fingerprint_reader_not_told",
            [](auto& b) { b.readers = not_told(ErrorCode::unsupported); },
            Outcome::not_tested,
            {}},
        Row{"fingerprint_reader_unreadable",
            [](auto& b) { b.readers = not_told(ErrorCode::bad_format); },
            Outcome::not_tested,
            {}},
        Row{"silent_is_not_exercised", [](auto& b) { b.silent = true; }, Outcome::not_tested, {}},
        Row{"dark_room_tells_no_share",
            [](auto& b) { b.lux = 0; },
            Outcome::fail,
            {"light_sensor_blocked light sensor"}},
        Row{"cameras_not_told", [](auto& b) { b.lights.reset(); }, Outcome::not_tested, {}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(PresenceMeasure, OnlyEventsFromUnderTheFingerAreItsShare) {
  Room b;
  const auto c = fakes::run(Presence{}.acquire(b.context, b.config)).value();
  const auto m = Presence::measure(c, b.config);
  EXPECT_EQ(find(*m, "presence.open_value", "light sensor")->value, 300);
  EXPECT_NEAR(find(*m, "presence.covered_share", "light sensor")->value, 0.01, 1e-9);
  EXPECT_GE(c.sensors[0].covered.size(), 8u);
}

TEST(PresenceAcquire, AModelWithoutAReaderIsNotAskedForOne) {
  Room b;
  b.config.fingerprint = false;
  const auto c = fakes::run(Presence{}.acquire(b.context, b.config)).value();
  EXPECT_FALSE(b.phone.called("fingerprint_readers"));
  EXPECT_EQ(find(*Presence::measure(c, b.config), "presence.fingerprint_readers"), nullptr);
}

TEST(PresenceAcquire, HandsThatNeverFinishAreToldToStop) {
  Room b;
  b.hands.seconds = [](const Action&) { return 1e6; };
  EXPECT_EQ(fakes::run(Presence{}.acquire(b.context, b.config)).error().code, ErrorCode::timed_out);
  EXPECT_EQ(b.hands.enoughs, 1);
}

TEST(PresenceMeasure, ACaptureOfOtherSensorsIsRefused) {
  Room b;
  auto c = fakes::run(Presence{}.acquire(b.context, b.config)).value();
  c.sensors[0].type = 6;
  EXPECT_EQ(Presence::measure(c, b.config).error().code, ErrorCode::bad_format);
}
}  // namespace
}  // namespace hb::checks
