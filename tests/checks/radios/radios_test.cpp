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
  Result<phone::RadioReading> nfc = phone::RadioReading{{}, true, {}};
  Result<phone::SimReading> sim = phone::SimReading{1, 1, 1};
  phone::MobileReading mobile{-88, {}};
  std::function<void()> before_sim;      ///< each time that it is asked for
  std::map<Inspection, double> answers;  ///< of eyes; without any there are none
  std::vector<Inspection> asked;
  fakes::Noise air{3};
  Radios::Config config;
  RadioBench() {
    config.nfc = config.mobile = true;
    phone.on_nfc = [this] { return nfc; };
    phone.on_sim = [this] {
      if (before_sim) before_sim();
      return sim;
    };
    phone.on_mobile = [this]() -> Result<phone::MobileReading> {
      auto r = mobile;
      if (r.lte_dbm) *r.lte_dbm += static_cast<int>(std::lround(2 * air()));
      return r;
    };
    hands.on_observe = [this](const Question& q) -> Result<double> {
      asked.push_back(q.inspection);
      if (!answers.contains(q.inspection)) return Error{ErrorCode::unsupported, "no eyes", "", ""};
      return answers.at(q.inspection);
    };
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
  return {{"radios.wifi_up", {}, 1.0, {}, o},     {"radios.bluetooth_up", {}, 1.0, {}, o},
          {"radios.level_dbm", {}, -65.0, {}, o}, {"radios.nfc_up", {}, 1.0, {}, o},
          {"radios.sim_seen", {}, 1.0, {}, o},    {"radios.mobile_level_dbm", {}, -105.0, {}, o}};
}

Error not_told() { return {ErrorCode::bad_format, "not told", "", ""}; }

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
  const auto c = fakes::run(Radios{}.acquire(b.context, b.config));
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_TRUE(b.hands.actions.empty());
  EXPECT_EQ(nlohmann::json(*c).get<Radios::Capture>(), *c) << "the journal keeps all of it";
  const auto r = fakes::judge<Radios>(*c, b.config, limits());
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
        Row{"nfc_does_not_come_up",
            [](auto& b) {
              b.nfc->up = false;
              b.answers[Inspection::nfc_on] = 1;
            },
            Outcome::fail,
            {"radio_absent NFC"}},
        Row{"nfc_switched_off_is_not_a_fault",
            [](auto& b) {
              b.nfc->up = false;
              b.answers[Inspection::nfc_on] = 0;
            },
            Outcome::not_tested,
            {}},
        Row{"nfc_off_and_nobody_to_ask", [](auto& b) { b.nfc->up = false; }, Outcome::not_tested, {}},
        Row{"nfc_not_told", [](auto& b) { b.nfc = not_told(); }, Outcome::not_tested, {}},
        Row{"sim_is_in_and_not_read",
            [](auto& b) {
              b.sim = phone::SimReading{1, 0, 0};
              b.answers[Inspection::sim_in] = 1;
            },
            Outcome::fail,
            {"sim_reader_not_seen SIM"}},
        Row{"no_sim_in_is_not_a_fault",
            [](auto& b) {
              b.sim = phone::SimReading{2, 0, 0};
              b.answers[Inspection::sim_in] = 0;
            },
            Outcome::not_tested,
            {}},
        Row{"no_sim_and_nobody_to_ask",
            [](auto& b) {
              b.sim = phone::SimReading{1, 0, 0};
            },
            Outcome::not_tested,
            {}},
        Row{"sim_slots_say_nothing_yet",
            [](auto& b) {
              b.sim = phone::SimReading{0, 0, 0};
            },
            Outcome::not_tested,
            {}},
        Row{"sim_not_told", [](auto& b) { b.sim = not_told(); }, Outcome::not_tested, {}},
        Row{"sim_lost_in_between",
            [](auto& b) {
              b.before_sim = [&b, n = 0]() mutable {
                b.sim = ++n == 9 ? phone::SimReading{1, 0, 0} : phone::SimReading{1, 1, 1};
              };
            },
            Outcome::fail,
            {"sim_reader_not_seen SIM"}},
        Row{"a_locked_sim_is_seen_but_has_no_level",
            [](auto& b) {
              b.sim = phone::SimReading{1, 1, 0};
            },
            Outcome::not_tested,
            {}},
        Row{"mobile_antenna_off",
            [](auto& b) { b.mobile.lte_dbm = -120; },
            Outcome::fail,
            {"antenna_flex_open mobile network"}},
        Row{"no_mobile_network_heard", [](auto& b) { b.mobile = {}; }, Outcome::not_tested, {}},
        Row{"nr_where_there_is_no_lte",
            [](auto& b) {
              b.mobile = {{}, -85};
            },
            Outcome::pass,
            {}},
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

TEST(RadiosMeasure, TheMobileLevelIsAsUnsureAsThePhonesOwnMeter) {
  RadioBench b;
  const auto m = Radios::measure(fakes::run(Radios{}.acquire(b.context, b.config)).value(), b.config);
  const auto* level = find(*m, "radios.mobile_level_dbm", "mobile network");
  EXPECT_NEAR(level->value, -88, 2);
  EXPECT_NEAR(level->u, 6 / std::sqrt(3.0), 0.3);
  EXPECT_EQ(find(*m, "radios.sim_seen", "SIM")->n, 12);
}

TEST(RadiosMeasure, SaysWhyTheMobilePartWasNotMeasured) {
  RadioBench b;
  b.sim = phone::SimReading{1, 0, 0};
  b.answers[Inspection::sim_in] = 0;
  const auto c = fakes::run(Radios{}.acquire(b.context, b.config)).value();
  EXPECT_EQ(fakes::judge<Radios>(c, b.config, limits())->reason.substr(0, 13), "no SIM was in");
  EXPECT_EQ(b.asked, std::vector<Inspection>{Inspection::sim_in}) << "asked once";
}

TEST(RadiosAcquire, ASimThatWasJustPutInIsWaitedFor) {
  RadioBench b;
  b.sim = phone::SimReading{1, 0, 0};
  b.answers[Inspection::sim_in] = 1;
  const double from_s = b.time.s;
  b.before_sim = [&] {
    if (b.time.s > from_s + 8) b.sim = phone::SimReading{1, 1, 1};
  };
  const auto c = fakes::run(Radios{}.acquire(b.context, b.config)).value();
  EXPECT_EQ(find(*Radios::measure(c, b.config), "radios.sim_seen", "SIM")->value, 1);
}

TEST(RadiosAcquire, AHealthyPhoneIsAskedNothingAndTakesNoLonger) {
  RadioBench b;
  const double from_s = b.time.s;
  ASSERT_TRUE(fakes::run(Radios{}.acquire(b.context, b.config)));
  EXPECT_TRUE(b.asked.empty());
  EXPECT_LT(b.time.s - from_s, 6.5);
  RadioBench without;
  without.config = {};
  ASSERT_TRUE(fakes::run(Radios{}.acquire(without.context, without.config)));
  for (const char* call : {"nfc", "sim", "mobile"}) EXPECT_FALSE(without.phone.called(call)) << call;
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
