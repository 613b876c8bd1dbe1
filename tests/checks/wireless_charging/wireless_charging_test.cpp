// Wireless charging against a small coil: a handshake time, a current, a loss by offset, drop-outs. Expected
// values are the model's own parameters.
#include "checks/wireless_charging/wireless_charging.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;

struct Coil {
  double handshake_s = 2.5, charge_ma = 1700, drain_ma = 280, factor = 1, lost_above_mm = 8,
         slope_k_per_min = 0.6;
  double drop_every_s = 0, drop_for_s = 1.2;
  bool open = false;
  // where it lies
  double laid_at_s = -1, offset_mm = 0, lifted_at_s = 1e9;
  double counter_mah = 2000, last_s = -1, temperature_c = 27;

  [[nodiscard]] bool on(double t) const {
    if (open || laid_at_s < 0 || t < laid_at_s + handshake_s || t >= lifted_at_s) return false;
    if (offset_mm > 0 && offset_mm >= lost_above_mm) return false;
    return drop_every_s == 0 || std::fmod(t - laid_at_s, drop_every_s) > drop_for_s;
  }
  [[nodiscard]] double current(double t) const {
    if (!on(t)) return -drain_ma;
    return factor * (charge_ma + drain_ma) * (1 - 0.03 * offset_mm) - drain_ma;
  }
  void run_to(double t) {
    if (last_s < 0) last_s = t;
    for (; last_s + 0.02 <= t; last_s += 0.02) {
      counter_mah += current(last_s) * 0.02 / 3600;
      if (on(last_s)) temperature_c += slope_k_per_min / 60 * 0.02;
    }
  }
};

struct Rig : Bench {
  Coil coil;
  double sign = 1, unit = 1;
  int level = 62;
  std::optional<int> health = 2;
  std::optional<bool> says_wireless = true;
  bool readable = true, frozen = false, forced = false, cable_stays = false;
  double skin_c = 30;
  fakes::Noise noise{5};

  Rig() {
    time.on_move = [this](double t) { coil.run_to(t); };
    phone.on_battery = [this] {
      phone::BatteryReading r;
      r.uptime_s = time.s;
      if (says_wireless) r.wireless = coil.on(time.s);
      r.usb = cable_stays || coil.laid_at_s < 0;
      r.ac = r.dock = false;
      r.level_pct = level;
      r.voltage_mv = coil.on(time.s) ? 3985 : 3900;
      r.temperature_c = std::round(10 * coil.temperature_c) / 10;
      r.charge_counter_mah = std::floor(coil.counter_mah);
      r.health = health;
      r.status = coil.on(time.s) ? phone::ChargeStatus::charging : phone::ChargeStatus::discharging;
      r.updates_stopped = frozen;
      return Result<phone::BatteryReading>(r);
    };
    phone.on_cell = [this](const std::string& supply) {
      phone::CellReading r;
      r.readable = readable;
      if (!readable) return Result<phone::CellReading>(r);
      const double share = supply == "battery-main" ? 0.6 : 0.4;
      r.present = true;
      r.current_ma = sign * unit * std::round(share * coil.current(time.s) + 2 * noise());
      return Result<phone::CellReading>(r);
    };
    phone.on_thermal = [this] {
      phone::ThermalReading r;
      r.forced = forced;
      r.skin_c = skin_c;
      return Result<phone::ThermalReading>(r);
    };
    hands.seconds = [](const Action& a) { return std::holds_alternative<PlaceOnPad>(a) ? 1.0 : 0.5; };
    hands.on_begin = [this](const Action& a) {
      if (std::holds_alternative<PlaceOnPad>(a)) coil.laid_at_s = time.s + 1;
      if (const auto* shift = std::get_if<ShiftOnPad>(&a)) coil.offset_mm = shift->millimetres;
      if (std::holds_alternative<LiftFromPad>(a)) coil.lifted_at_s = time.s;
    };
  }
};

Sections sections() {
  Sections out;
  Section w;
  w.values = {{"power_w", 10.0}};
  out.all.emplace_back("wireless", w);
  for (const char* supply : {"battery-main", "battery-sub"}) {
    Section s;
    s.values = {{"supply", supply}};
    out.all.emplace_back("cell", s);
  }
  return out;
}
WirelessCharging::Config config() { return WirelessCharging::configure(sections()).value(); }
std::vector<Limit> limits() {
  const auto between = [](const char* key, std::optional<double> lower, std::optional<double> upper) {
    return Limit{key, {}, lower, upper, LimitOrigin::common_practice};
  };
  return {between("wireless_charging.coupled", 1, {}),
          between("wireless_charging.couple_s", {}, 6),
          between("wireless_charging.net_current_ma", 1000, {}),
          between("wireless_charging.dropouts", {}, 0),
          between("wireless_charging.shifted_kept", 1, {}),
          between("wireless_charging.temp_slope_c_per_min", {}, 3)};
}
Result<WirelessCharging::Capture> acquired(Rig& rig) {
  return fakes::run(WirelessCharging{}.acquire(rig.context, config()));
}
CheckResult judged(const WirelessCharging::Capture& c) {
  return Erased<WirelessCharging>{}.judge(nlohmann::json(c), sections(), limits()).value();
}

struct Situation {
  const char* name;
  std::function<void(Rig&)> set;
  Outcome outcome;
  std::vector<std::string> findings;
};
void PrintTo(const Situation& s, std::ostream* os) { *os << s.name; }
class WirelessSituation : public testing::TestWithParam<Situation> {};
TEST_P(WirelessSituation, IsToldByNameOrPasses) {
  Rig rig;
  GetParam().set(rig);
  const auto r = judged(acquired(rig).value());
  EXPECT_EQ(r.outcome, GetParam().outcome) << r.reason;
  EXPECT_EQ(fakes::finding_ids(r.findings), GetParam().findings);
}
const Situation kSituations[] = {
    {"GoodCoil", [](Rig&) {}, Outcome::pass, {}},
    {"GoodCoilAndADriverWithTheOtherSign", [](Rig& r) { r.sign = -1; }, Outcome::pass, {}},
    {"GoodCoilAndADriverThatGivesMilliampere", [](Rig& r) { r.unit = 0.001; }, Outcome::pass, {}},
    {"GoodCoilWithoutReadableCurrent", [](Rig& r) { r.readable = false; }, Outcome::pass, {}},
    {"CoilFlexOpen", [](Rig& r) { r.coil.open = true; }, Outcome::fail, {"coil_flex_open"}},
    {"CoilFlexIntermittent",
     [](Rig& r) { r.coil.drop_every_s = 7; },
     Outcome::fail,
     {"coil_flex_intermittent"}},
    {"CoilMisplaced",
     [](Rig& r) { r.coil.handshake_s = 7, r.coil.factor = 0.35, r.coil.lost_above_mm = 3; },
     Outcome::fail,
     {"coil_misplaced"}},
    {"WeakOnly", [](Rig& r) { r.coil.factor = 0.35; }, Outcome::fail, {"coil_misplaced"}},
    {"LostWhenPushed", [](Rig& r) { r.coil.lost_above_mm = 3; }, Outcome::fail, {"coil_misplaced"}},
    // Above 80 % a healthy phone takes less by design: the current is not judged, so nothing is a pass.
    {"TaperingByLevel", [](Rig& r) { r.level = 85, r.coil.charge_ma = 500; }, Outcome::not_tested, {}},
    {"ThrottledByHeat",
     [](Rig& r) { r.coil.temperature_c = 42.8, r.coil.charge_ma = 500; },
     Outcome::not_tested,
     {}},
};
INSTANTIATE_TEST_SUITE_P(All, WirelessSituation, testing::ValuesIn(kSituations),
                         [](const auto& i) { return std::string(i.param.name); });

TEST(WirelessCharging, TheMeasuresAreTheModelsOwnFigures) {
  for (const bool readable : {true, false}) {
    Rig rig;
    rig.readable = readable;
    const auto m = WirelessCharging::measure(acquired(rig).value(), config()).value();
    const struct {
      const char* key;
      double expected, tolerance;
      bool needs_current;
    } rows[] = {
        {"wireless_charging.couple_s", 2.5, 0.6, false},
        {"wireless_charging.net_current_ma", 1700, readable ? 10.0 : 60.0, false},
        // (1700 + 280) mA at 3.985 V of 10 W.
        {"wireless_charging.power_fraction", 0.789, 0.01, true},
        {"wireless_charging.temp_slope_c_per_min", 0.6, 0.1, false},
        // At 4 mm the model gives 88 % of 1980 mA less 280 mA: 1462.4 of 1700.
        {"wireless_charging.shifted_current_ratio", 0.860, 0.02, true},
    };
    for (const auto& row : rows) {
      const auto* x = find(m, row.key);
      if (row.needs_current && !readable) {
        EXPECT_EQ(x, nullptr) << row.key;
        continue;
      }
      ASSERT_NE(x, nullptr) << row.key;
      EXPECT_NEAR(x->value, row.expected, row.tolerance) << row.key << readable;
      EXPECT_GT(x->u, 0) << row.key;
    }
    EXPECT_EQ(find(m, "wireless_charging.dropouts")->value, 0);
    EXPECT_EQ(find(m, "wireless_charging.shifted_kept")->value, 1);
  }
}

TEST(WirelessCharging, LiftsThePhoneAlsoWhenItNeverCoupled) {
  Rig rig;
  rig.coil.open = true;
  const auto c = acquired(rig);
  ASSERT_TRUE(c);
  ASSERT_EQ(rig.hands.actions.size(), 2u);
  EXPECT_EQ(rig.hands.actions[1], Action(LiftFromPad{}));
  EXPECT_EQ(find(WirelessCharging::measure(*c, config()).value(), "wireless_charging.couple_s"), nullptr);
}

struct Refusal {
  const char* name;
  std::function<void(Rig&)> set;
  ErrorCode code;
  const char* says;
};
void PrintTo(const Refusal& s, std::ostream* os) { *os << s.name; }
class WirelessRefusal : public testing::TestWithParam<Refusal> {};
TEST_P(WirelessRefusal, SaysWhy) {
  Rig rig;
  GetParam().set(rig);
  const auto r = acquired(rig);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, GetParam().code);
  EXPECT_THAT(r.error().what, testing::HasSubstr(GetParam().says));
}
const Refusal kRefusals[] = {
    {"ByCable", [](Rig& r) { r.phone.fake_link.kind = "usb"; }, ErrorCode::unsupported,
     "the link is by cable"},
    {"Full", [](Rig& r) { r.level = 95; }, ErrorCode::unsupported, "the battery is full"},
    {"HotBattery", [](Rig& r) { r.coil.temperature_c = 43; }, ErrorCode::unsupported, "phone too hot"},
    {"HotSkin", [](Rig& r) { r.skin_c = 47; }, ErrorCode::unsupported, "phone too hot"},
    {"Frozen", [](Rig& r) { r.frozen = true; }, ErrorCode::unsupported, "frozen"},
    {"ThermalForced", [](Rig& r) { r.forced = true; }, ErrorCode::unsupported, "forced"},
    {"WirelessNotReported", [](Rig& r) { r.says_wireless.reset(); }, ErrorCode::unsupported, "does not say"},
    {"HeatsOnThePad", [](Rig& r) { r.coil.slope_k_per_min = 60; }, ErrorCode::safety, "too hot on the pad"},
    {"HealthFails", [](Rig& r) { r.health = 6; }, ErrorCode::safety, "not in health"},
    {"NeverLaidDown", [](Rig& r) { r.hands.seconds = [](const Action&) { return 1e9; }; },
     ErrorCode::timed_out, "was not moved"},
};
INSTANTIATE_TEST_SUITE_P(All, WirelessRefusal, testing::ValuesIn(kRefusals),
                         [](const auto& i) { return std::string(i.param.name); });

TEST(WirelessCharging, ALevelJustBelowFullIsTried) {
  Rig rig;
  rig.level = 94;
  EXPECT_TRUE(acquired(rig));
}

TEST(WirelessCharging, ACableLeftInIsNotTestedRatherThanADeadCoil) {
  Rig rig;
  rig.cable_stays = true;
  rig.coil.open = true;
  const auto r = judged(acquired(rig).value());
  EXPECT_EQ(r.outcome, Outcome::not_tested);
  EXPECT_THAT(r.reason, testing::HasSubstr("a cable is in"));
  EXPECT_TRUE(r.findings.empty());
}

TEST(WirelessCharging, ACablePulledAtAnyCommandIsALinkErrorAndNothingElse) {
  Rig whole;
  whole.phone.fail_at = 1 << 30;
  ASSERT_TRUE(acquired(whole));
  const int commands = whole.phone.commands;
  ASSERT_GT(commands, 100);
  for (int n = 0; n < commands; n += 1 + n / 10) {
    Rig rig;
    rig.phone.fail_at = n;
    const auto r = acquired(rig);
    ASSERT_FALSE(r) << n;
    EXPECT_EQ(r.error().code, ErrorCode::link_lost) << n;
  }
}

TEST(WirelessCharging, ACaptureReadBackFromTextMeasuresToTheSameBits) {
  Rig rig;
  const auto c = acquired(rig).value();
  const auto back = nlohmann::json::parse(nlohmann::json(c).dump()).get<WirelessCharging::Capture>();
  ASSERT_EQ(back, c);
  const auto a = WirelessCharging::measure(c, config()).value();
  const auto b = WirelessCharging::measure(back, config()).value();
  ASSERT_EQ(a.measures.size(), b.measures.size());
  for (std::size_t i = 0; i < a.measures.size(); ++i) {
    EXPECT_EQ(a.measures[i].value, b.measures[i].value);
    EXPECT_EQ(a.measures[i].u, b.measures[i].u);
  }
}

TEST(WirelessCharging, EmptyAndTornCaptures) {
  EXPECT_EQ(WirelessCharging::measure({}, config()).error().code, ErrorCode::unsupported);
  Rig rig;
  const auto whole = acquired(rig).value();
  auto mixed = whole;
  std::swap(mixed.samples[3], mixed.samples[20]);
  EXPECT_EQ(WirelessCharging::measure(mixed, config()).error().code, ErrorCode::bad_format);
  for (const std::size_t n : {1u, 5u, 12u, 30u}) {
    auto cut = whole;
    cut.samples.resize(n);
    EXPECT_NE(judged(cut).outcome, Outcome::pass) << n;
  }
}

TEST(WirelessCharging, ALimitExactlyAtTheValueIsMarginal) {
  Rig rig;
  const auto c = acquired(rig).value();
  const double i =
      find(WirelessCharging::measure(c, config()).value(), "wireless_charging.net_current_ma")->value;
  const std::vector<Limit> at{{"wireless_charging.net_current_ma", {}, i, {}, LimitOrigin::learned}};
  EXPECT_EQ(Erased<WirelessCharging>{}.judge(nlohmann::json(c), sections(), at)->outcome, Outcome::marginal);
}

TEST(WirelessCharging, AModelWithoutACoilIsSaidSo) {
  EXPECT_EQ(WirelessCharging::configure({}).error().code, ErrorCode::unsupported);
}
}  // namespace
}  // namespace hb::checks
