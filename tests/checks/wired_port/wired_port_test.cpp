// The charging port against a small one: a charger behind a resistance, each way round.
#include "checks/wired_port/wired_port.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;
using testing::ElementsAre;

/// 5.1 V behind `ohm`; the current rises from 0.5 A to `most_a` in two seconds.
struct SmallPort {
  double ohm = 0.12, most_a = 3, slow_rise_s = 2;
  int dead_side = 0, slow_side = 0, sudden_side = 0;
  double lost_every_s = 0;  ///< while wiggled, for 0.5 s
  bool readable = true;

  int side = 0;
  double since_s = 0, wiggled_since_s = -1;
  [[nodiscard]] bool online(double t) const {
    if (side == 0 || side == dead_side) return false;
    if (lost_every_s <= 0 || wiggled_since_s < 0) return true;
    return std::fmod(t - wiggled_since_s, lost_every_s) < lost_every_s - 0.5;
  }
  [[nodiscard]] phone::SupplyReading read(double t) const {
    phone::SupplyReading r;
    if (!readable) return r;
    r.uptime_s = t;
    r.online = online(t);
    if (!*r.online) return r;
    const double rise_s = side == sudden_side ? 1e-9 : slow_rise_s;
    const double a = std::min(0.5 + (most_a - 0.5) * (t - since_s) / rise_s, most_a);
    r.current_ma = 1000 * a, r.current_max_ma = 3000, r.voltage_mv = 5100 - 1000 * a * ohm;
    return r;
  }
};

struct PortBench : Bench {
  SmallPort port;
  int level = 60;
  WiredPort::Config config;
  PortBench() {
    config.supply = "usb", config.udc = "udc";
    hands.seconds = [](const Action& a) {
      const auto* w = std::get_if<WigglePlug>(&a);
      return w != nullptr ? w->seconds : 1.0;
    };
    hands.on_begin = [this](const Action& a) {
      port.wiggled_since_s = std::holds_alternative<WigglePlug>(a) ? time.s : -1;
      if (const auto* in = std::get_if<PlugIn>(&a))
        port.side = in->turned_over ? 2 : 1, port.since_s = time.s;
      if (std::holds_alternative<Unplug>(a)) port.side = 0;
    };
    phone.on_battery = [this]() -> Result<phone::BatteryReading> {
      phone::BatteryReading r;
      r.level_pct = level, r.temperature_c = 27;
      return r;
    };
    phone.on_supply = [this](const std::string& s) -> Result<phone::SupplyReading> {
      EXPECT_EQ(s, "usb");
      return port.read(time.s);
    };
    phone.on_link_speed = [this]() -> Result<double> { return port.side == port.slow_side ? 480 : 5000; };
  }
  Result<WiredPort::Capture> capture() { return fakes::run(WiredPort{}.acquire(context, config)); }
};

std::vector<Limit> limits() {
  const auto o = LimitOrigin::common_practice;
  return {{"wired_port.powered", {}, 1.0, {}, o},           {"wired_port.current_ma", {}, 2400.0, {}, o},
          {"wired_port.resistance_mohm", {}, {}, 220.0, o}, {"wired_port.dropouts", {}, {}, 0.0, o},
          {"wired_port.wiggle_dropouts", {}, {}, 0.0, o},   {"wired_port.link_mbit_s", {}, 5000.0, {}, o}};
}

struct Row {
  const char* name;
  std::function<void(PortBench&)> change;
  Outcome outcome;
  std::vector<std::string> named;
};
class WiredPortTable : public testing::TestWithParam<Row> {};
TEST_P(WiredPortTable, IsJudgedAndNamed) {
  PortBench b;
  GetParam().change(b);
  const auto c = b.capture();
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_EQ(nlohmann::json(*c).get<WiredPort::Capture>(), *c) << "the journal keeps all of it";
  const auto r = fakes::judge<WiredPort>(*c, b.config, limits());
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::named(r->findings), GetParam().named);
}
INSTANTIATE_TEST_SUITE_P(
    Situations, WiredPortTable,
    testing::Values(
        Row{"healthy", [](auto&) {}, Outcome::pass, {}},
        Row{"dead_when_turned",
            [](auto& b) { b.port.dead_side = 2; },
            Outcome::fail,
            {"port_one_side_dead turned"}},
        Row{"dead_the_first_way",
            [](auto& b) { b.port.dead_side = 1; },
            Outcome::fail,
            {"port_one_side_dead first way"}},
        Row{"slow_data_when_turned",
            [](auto& b) { b.port.slow_side = 2; },
            Outcome::fail,
            {"port_one_side_dead turned"}},
        Row{"resistive", [](auto& b) { b.port.ohm = 0.35; }, Outcome::fail, {"port_resistive "}},
        Row{"too_little_current", [](auto& b) { b.port.most_a = 1.5; }, Outcome::fail, {"port_current_low "}},
        Row{"loses_contact", [](auto& b) { b.port.lost_every_s = 2; }, Outcome::fail, {"port_intermittent "}},
        Row{"nearly_full_takes_less_by_design",
            [](auto& b) {
              b.level = 88;
              b.port.most_a = 1.5;
            },
            Outcome::not_tested,
            {}},
        Row{"current_that_never_changed_tells_no_resistance",
            [](auto& b) { b.port.slow_rise_s = 1e-9; },
            Outcome::not_tested,
            {}},
        Row{"a_resistance_one_way_says_nothing_of_the_other",
            [](auto& b) { b.port.sudden_side = 2; },
            Outcome::not_tested,
            {}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(WiredPortMeasure, FindsTheModelsResistanceByOhmsLaw) {
  for (const double ohm : {0.05, 0.12, 0.30}) {
    PortBench b;
    b.port.ohm = ohm;
    const auto m = WiredPort::measure(b.capture().value(), b.config);
    ASSERT_TRUE(m);
    for (const char* part : {"first way", "turned"}) {
      const auto* r = find(*m, "wired_port.resistance_mohm", part);
      EXPECT_NEAR(r->value, 1000 * ohm, 2 * r->u) << part;
      EXPECT_LT(r->u, 10);
      EXPECT_NEAR(find(*m, "wired_port.port_voltage_mv", part)->value, 5100 - 3000 * ohm, 1e-6);
      EXPECT_EQ(find(*m, "wired_port.current_limit_ma", part)->value, 3000);
    }
  }
}

TEST(WiredPortMeasure, CountsEachLossOnce) {
  PortBench b;
  b.port.lost_every_s = 2;  // in 6 s: lost at 1.5, 3.5, 5.5
  const auto m = WiredPort::measure(b.capture().value(), b.config);
  EXPECT_EQ(find(*m, "wired_port.wiggle_dropouts", "turned")->value, 3);
  EXPECT_EQ(find(*m, "wired_port.dropouts", "turned")->value, 0);
}

TEST(WiredPortAcquire, PlugsInBothWaysAndUnplugs) {
  PortBench b;
  ASSERT_TRUE(b.capture());
  EXPECT_THAT(b.hands.actions, ElementsAre(Action(PlugIn{false}), Action(WigglePlug{6}), Action(PlugIn{true}),
                                           Action(WigglePlug{6}), Action(Unplug{})));
}

TEST(WiredPortAcquire, WhatCannotBeJudgedAsksForNothing) {
  const std::vector<std::function<void(PortBench&)>> cases{
      [](auto& b) { b.phone.fake_link.kind = "usb"; }, [](auto& b) { b.level = 97; },
      [](auto& b) { b.port.readable = false; },
      [](auto& b) {
        b.phone.on_battery = []() -> Result<phone::BatteryReading> {
          phone::BatteryReading r;
          r.updates_stopped = true;
          return r;
        };
      },
      [](auto& b) {
        b.phone.on_thermal = []() -> Result<phone::ThermalReading> {
          phone::ThermalReading r;
          r.skin_c = 47;
          return r;
        };
      }};
  for (std::size_t i = 0; i < cases.size(); ++i) {
    PortBench b;
    cases[i](b);
    const auto c = b.capture();
    ASSERT_FALSE(c) << i;
    EXPECT_EQ(c.error().code, ErrorCode::unsupported) << i;
    EXPECT_TRUE(b.hands.actions.empty()) << i;
  }
}

TEST(WiredPortAcquire, AHotOrIllBatteryStopsTheCharging) {
  for (const bool hot : {true, false}) {
    PortBench b;
    int looks = 0;
    b.phone.on_battery = [&]() -> Result<phone::BatteryReading> {
      phone::BatteryReading r;
      r.level_pct = 60, r.temperature_c = 30, r.health = 2;
      if (++looks > 3 && hot) r.temperature_c = 49;
      if (looks > 3 && !hot) r.health = 3;
      return r;
    };
    EXPECT_EQ(b.capture().error().code, ErrorCode::safety);
    EXPECT_EQ(b.hands.enoughs, 1);
  }
}

TEST(WiredPortAcquire, HandsThatNeverFinishAreToldToStop) {
  PortBench b;
  b.hands.seconds = [](const Action&) { return 1e6; };
  EXPECT_EQ(b.capture().error().code, ErrorCode::timed_out);
  EXPECT_EQ(b.hands.enoughs, 1);
}

TEST(WiredPortMeasure, ATornCaptureIsRefused) {
  PortBench b;
  auto c = b.capture().value();
  c.samples[3].side = 7;
  EXPECT_EQ(WiredPort::measure(c, b.config).error().code, ErrorCode::bad_format);
}
}  // namespace
}  // namespace hb::checks
