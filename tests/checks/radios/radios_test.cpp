// The radios against a phone that says what a table row tells it to.
#include "checks/radios/radios.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;

struct RadioBench : Bench {
  phone::RadioReading wifi{true, true, -50}, bluetooth{true, true, {}};
  bool wifi_told = true, bluetooth_told = true;
  fakes::Noise air{3};
  RadioBench() {
    phone.on_wifi = [this]() -> Result<phone::RadioReading> {
      if (!wifi_told) return Error{ErrorCode::unsupported, "not on this phone", "", ""};
      auto r = wifi;
      if (r.level_dbm) *r.level_dbm += static_cast<int>(std::lround(2 * air()));
      return r;
    };
    phone.on_bluetooth = [this]() -> Result<phone::RadioReading> {
      if (!bluetooth_told) return Error{ErrorCode::unsupported, "not on this phone", "", ""};
      return bluetooth;
    };
  }
};

std::vector<Limit> limits() {
  const auto o = LimitOrigin::common_practice;
  return {{"radios.wifi_up", {}, 1.0, {}, o},
          {"radios.bluetooth_up", {}, 1.0, {}, o},
          {"radios.level_dbm", {}, -65.0, {}, o}};
}

struct Row {
  const char* name;
  std::function<void(RadioBench&)> change;
  Outcome outcome;
  std::vector<std::string> named;
};
class RadiosTable : public testing::TestWithParam<Row> {};
TEST_P(RadiosTable, IsJudgedAndNamed) {
  RadioBench b;
  GetParam().change(b);
  const auto c = fakes::run(Radios{}.acquire(b.context, {}));
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_TRUE(b.hands.deeds.empty());
  EXPECT_EQ(nlohmann::json(*c).get<Radios::Capture>(), *c) << "the journal keeps all of it";
  const auto r = fakes::judge<Radios>(*c, {}, limits());
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::named(r->findings), GetParam().named);
}
INSTANTIATE_TEST_SUITE_P(
    Situations, RadiosTable,
    testing::Values(
        Row{"healthy", [](auto&) {}, Outcome::pass, {}},
        Row{"antenna_off",
            [](auto& b) { b.wifi.level_dbm = -82; },
            Outcome::fail,
            {"antenna_flex_open Wi-Fi"}},
        Row{"near_the_limit",
            [](auto& b) { b.wifi.level_dbm = -65; },
            Outcome::marginal,
            {"antenna_flex_open Wi-Fi"}},
        Row{"wifi_does_not_come_up",
            [](auto& b) {
              b.wifi.up = false;
              b.wifi.level_dbm.reset();
            },
            Outcome::fail,
            {"radio_absent Wi-Fi"}},
        Row{"bluetooth_does_not_come_up",
            [](auto& b) { b.bluetooth.up = false; },
            Outcome::fail,
            {"radio_absent Bluetooth"}},
        Row{"wifi_switched_off_is_not_a_fault",
            [](auto& b) {
              b.wifi = {false, false, {}};
            },
            Outcome::not_tested,
            {}},
        Row{"no_network_joined", [](auto& b) { b.wifi.level_dbm.reset(); }, Outcome::not_tested, {}},
        Row{"bluetooth_not_told", [](auto& b) { b.bluetooth_told = false; }, Outcome::not_tested, {}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(RadiosMeasure, TheMedianLevelAndItsScatter) {
  RadioBench b;
  const auto m = Radios::measure(fakes::run(Radios{}.acquire(b.context, {})).value(), {});
  const auto* level = find(*m, "radios.level_dbm", "Wi-Fi");
  EXPECT_NEAR(level->value, -50, 2);
  EXPECT_NEAR(level->u, 3 / std::sqrt(3.0), 0.4);
  EXPECT_NEAR(find(*m, "radios.level_spread_db", "Wi-Fi")->value, 2, 1);
}

TEST(RadiosAcquire, APhoneThatTellsNothingIsNotTested) {
  RadioBench b;
  b.wifi_told = b.bluetooth_told = false;
  EXPECT_EQ(fakes::run(Radios{}.acquire(b.context, {})).error().code, ErrorCode::unsupported);
}

TEST(RadiosMeasure, ATornCaptureIsRefused) {
  RadioBench b;
  auto c = fakes::run(Radios{}.acquire(b.context, {})).value();
  c.readings[2].wifi_dbm = 40;
  EXPECT_EQ(Radios::measure(c, {}).error().code, ErrorCode::bad_format);
}
}  // namespace
}  // namespace hb::checks
