// The battery check against a small pack: cells with an open-circuit curve, R0 and one RC branch, joined in
// parallel, read through a gauge with steps and noise. Expected values are the model's own parameters; the
// coulomb and resistance arithmetic has its outside values in tests/checks/kernel.
#include "checks/batteries/batteries.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;

const std::vector<double> kSoc{0, .1, .2, .3, .4, .5, .6, .7, .8, .9, 1};
const std::vector<double> kVolts{3.30, 3.62, 3.69, 3.74, 3.78, 3.83, 3.90, 3.98, 4.07, 4.18, 4.35};

struct CellModel {
  const char* name;
  const char* supply;
  double design_mah, r0_ohm;
  double r_design_mohm;
  bool present = true;
  double health = 0.98, reported_design = 1, soc = 0.62;
  double rc_v = 0, current_ma = 0, counter_mah = 0;
};

double ocv(double soc) {
  const double x = std::clamp(soc, 0.0, 1.0) * 10;
  const auto i = std::min<std::size_t>(9, static_cast<std::size_t>(x));
  return kVolts[i] + (x - static_cast<double>(i)) * (kVolts[i + 1] - kVolts[i]);
}

struct Pack {
  std::vector<CellModel> cells;
  double usb_ma = 500, load_ma = 0, workers = 0, temperature_c = 26, heat_c_per_s = 0, terminal_v = 3.9;
  double last_s = -1;

  void run_to(double t) {
    if (last_s < 0) last_s = t;
    for (; last_s + 0.01 <= t; last_s += 0.01) step(0.01);
  }
  void step(double dt) {
    const double drain_ma = 280 + workers * 3500.0 / 4 / terminal_v;
    const double total_ma = usb_ma - drain_ma;
    double g = 0, sum = 0;
    for (auto& c : cells)
      if (c.present) g += 1 / c.r0_ohm, sum += (ocv(c.soc) + c.rc_v) / c.r0_ohm;
    terminal_v = (sum + total_ma / 1000) / g;
    for (auto& c : cells) {
      if (!c.present) continue;
      const double amps = (terminal_v - ocv(c.soc) - c.rc_v) / c.r0_ohm;
      c.current_ma = 1000 * amps;
      c.rc_v += dt / 20 * (amps * 0.025 - c.rc_v);
      c.counter_mah += c.current_ma * dt / 3600;
      c.soc += c.current_ma * dt / 3600 / (c.design_mah * c.health);
    }
    if (workers > 0) temperature_c += heat_c_per_s * dt;
  }
};

std::vector<CellModel> petal() {
  return {{"main", "battery-main", 2340, 0.095, 95}, {"sub", "battery-sub", 1390, 0.140, 140}};
}
std::vector<CellModel> plank() { return {{"cell", "battery", 4800, 0.060, 60}}; }

struct Rig : Bench {
  Pack pack;
  double sign = 1, unit = 1;  // as the driver reports
  bool readable = true, frozen = false, forced = false, has_current = true;
  phone::ChargeStatus status = phone::ChargeStatus::charging;
  std::optional<int> health = 2;
  std::optional<double> voltage_lie_mv, skin_c;
  fakes::Noise noise{3};

  explicit Rig(std::vector<CellModel> cells = petal()) {
    pack.cells = std::move(cells);
    for (auto& c : pack.cells) c.counter_mah = c.soc * c.design_mah * c.health;
    time.on_move = [this](double t) { pack.run_to(t); };
    phone.on_battery = [this] {
      phone::BatteryReading r;
      r.uptime_s = time.s;
      r.usb = pack.usb_ma > 0;
      r.voltage_mv = voltage_lie_mv.value_or(std::round(1000 * pack.terminal_v));
      r.temperature_c = std::round(10 * pack.temperature_c) / 10;
      r.level_pct = 62;
      r.status = status;
      r.health = health;
      r.present = true;
      r.updates_stopped = frozen;
      return Result<phone::BatteryReading>(r);
    };
    phone.on_cell = [this](const std::string& supply) {
      phone::CellReading r;
      for (const auto& c : pack.cells)
        if (c.supply == supply && readable) r = read(c);
      return Result<phone::CellReading>(r);
    };
    phone.on_thermal = [this] {
      phone::ThermalReading r;
      r.forced = forced;
      r.skin_c = skin_c;
      return Result<phone::ThermalReading>(r);
    };
    phone.on_load = [this](int, int workers) { pack.workers = workers; };
    phone.on_stop_load = [this] { pack.workers = 0; };
  }

  phone::CellReading read(const CellModel& c) {
    phone::CellReading r;
    r.uptime_s = time.s;
    r.readable = true;
    r.present = c.present;
    if (!c.present) return r;
    r.voltage_mv = std::round(1000 * pack.terminal_v);
    if (has_current) r.current_ma = sign * std::round(c.current_ma + 2 * noise()) * unit;
    r.temperature_c = std::round(10 * pack.temperature_c) / 10;
    r.charge_counter_mah = std::floor(c.counter_mah);
    r.charge_full_mah = c.health * c.design_mah;
    r.charge_full_design_mah = c.reported_design * c.design_mah;
    r.capacity_pct = static_cast<int>(std::round(100 * c.soc));
    r.status = status;
    return r;
  }
};

Sections sections(const std::vector<CellModel>& cells) {
  Sections out;
  for (const auto& c : cells) {
    Section s;
    s.name = ShopText::screened(c.name, "name").value();
    s.values = {{"supply", c.supply}, {"design_mah", c.design_mah}, {"r_design_mohm", c.r_design_mohm}};
    out.all.emplace_back("cell", s);
  }
  Section b;
  b.values = {{"ocv_soc", kSoc}, {"ocv_v", kVolts}};
  out.all.emplace_back("battery", b);
  return out;
}
std::vector<Limit> limits(const std::vector<CellModel>& cells) {
  std::vector<Limit> out;
  const auto add = [&](const char* key, const char* part, std::optional<double> lower,
                       std::optional<double> upper) {
    out.push_back(
        {key, ShopText::screened(part, "part").value(), lower, upper, LimitOrigin::common_practice});
  };
  for (const auto& c : cells) {
    add("batteries.present", c.name, 1, {});
    add("batteries.soh_pct", c.name, 80, {});
    add("batteries.design_ratio", c.name, 0.9, 1.1);
    add("batteries.resistance_mohm", c.name, {}, 1.7 * c.r_design_mohm);
    add("batteries.rest_ocv_error_mv", c.name, -60, 60);
    add("batteries.temperature_rise_c", c.name, {}, 6);
    if (cells.size() > 1) add("batteries.share_error_pct", c.name, -12, 12);
  }
  return out;
}
Batteries::Config config(const std::vector<CellModel>& cells = petal()) {
  return Batteries::configure(sections(cells)).value();
}

Result<Batteries::Capture> acquired(Rig& rig) {
  return fakes::run(Batteries{}.acquire(rig.context, config(rig.pack.cells)));
}
CheckResult judged(Rig& rig) {
  const auto cells = rig.pack.cells.size() == 2 ? petal() : plank();
  return Erased<Batteries>{}
      .judge(nlohmann::json(acquired(rig).value()), sections(cells), limits(cells))
      .value();
}
Measured measured(Rig& rig) {
  return Batteries::measure(acquired(rig).value(), config(rig.pack.cells)).value();
}

struct Situation {
  const char* name;
  std::function<void(Rig&)> set;
  Outcome outcome;
  std::vector<std::string> findings;
  bool one_cell = false;
};
void PrintTo(const Situation& s, std::ostream* os) { *os << s.name; }
class BatteriesSituation : public testing::TestWithParam<Situation> {};
TEST_P(BatteriesSituation, IsToldByNameOrPasses) {
  Rig rig(GetParam().one_cell ? plank() : petal());
  GetParam().set(rig);
  const auto r = judged(rig);
  EXPECT_EQ(r.outcome, GetParam().outcome) << r.reason;
  EXPECT_EQ(fakes::finding_ids(r.findings), GetParam().findings);
}
const Situation kSituations[] = {
    {"GoodPack", [](Rig&) {}, Outcome::pass, {}},
    {"GoodPackWithoutACable",
     [](Rig& r) { r.pack.usb_ma = 0, r.status = phone::ChargeStatus::discharging; },
     Outcome::pass,
     {}},
    {"GoodSingleCell", [](Rig&) {}, Outcome::pass, {}, true},
    {"GoodPackAtTheEndsOfItsSpread",
     [](Rig& r) { r.pack.cells[0].r0_ohm *= 1.08, r.pack.cells[1].r0_ohm *= 0.92; },
     Outcome::pass,
     {}},
    {"ADriverWithTheOtherSign", [](Rig& r) { r.sign = -1; }, Outcome::pass, {}},
    {"ADriverThatGivesMilliampere", [](Rig& r) { r.unit = 0.001; }, Outcome::pass, {}},
    {"SecondPackUnplugged",
     [](Rig& r) { r.pack.cells[1].present = false; },
     Outcome::fail,
     {"cell_not_connected"}},
    {"SecondPackThereButCarryingNothing",
     [](Rig& r) { r.pack.cells[1].r0_ohm = 20; },
     Outcome::fail,
     {"cell_not_connected"}},
    {"ResistiveConnector",
     [](Rig& r) { r.pack.cells[0].r0_ohm += 0.2; },
     Outcome::fail,
     {"connector_resistive"}},
    {"ResistiveConnectorOfASingleCell",
     [](Rig& r) { r.pack.cells[0].r0_ohm += 0.2; },
     Outcome::fail,
     {"connector_resistive"},
     true},
    {"AgedPack",
     [](Rig& r) { r.pack.cells[0].health = 0.7, r.pack.cells[0].r0_ohm *= 1.6; },
     Outcome::fail,
     {"cell_aged"}},
    {"WrongPack",
     [](Rig& r) { r.pack.cells[0].reported_design = 0.6, r.pack.cells[0].health = 0.6; },
     Outcome::fail,
     {"cell_wrong"}},
    {"OnlyThePlatformsViewCanBeRead", [](Rig& r) { r.readable = false; }, Outcome::not_tested, {}},
    {"NoCurrentReported", [](Rig& r) { r.has_current = false; }, Outcome::not_tested, {}},
};
INSTANTIATE_TEST_SUITE_P(All, BatteriesSituation, testing::ValuesIn(kSituations),
                         [](const auto& i) { return std::string(i.param.name); });

TEST(Batteries, TheMeasuresAreTheModelsOwnFigures) {
  Rig rig;
  rig.sign = -1;
  const auto m = measured(rig);
  const struct {
    const char* key;
    const char* part;
    double expected, tolerance;
  } rows[] = {
      {"batteries.resistance_mohm", "main", 95, 4},
      {"batteries.resistance_mohm", "sub", 140, 6},
      {"batteries.soh_pct", "main", 98, 1e-9},
      {"batteries.design_ratio", "sub", 1, 1e-9},
      {"batteries.sign_inverted", "main", 1, 0},
      // Circuit law: shares as 1/95 to 1/140, so the error is 0.
      {"batteries.share_error_pct", "main", 0, 1.5},
      {"batteries.share_error_pct", "sub", 0, 1.5},
      {"batteries.rest_ocv_error_mv", "main", 0, 8},
      {"batteries.imbalance_mv", "", 0, 4},
      {"batteries.coulomb_error_pct", "main", 0, 60},
  };
  for (const auto& row : rows) {
    const auto* x = find(m, row.key, row.part);
    ASSERT_NE(x, nullptr) << row.key << row.part;
    EXPECT_NEAR(x->value, row.expected, row.tolerance) << row.key << row.part;
    EXPECT_EQ(x->u > 0, row.tolerance > 0) << row.key;
  }
  // The spread of the counter's steps must be inside what u claims.
  const auto* q = find(m, "batteries.coulomb_error_pct", "main");
  EXPECT_LT(std::abs(q->value), 3 * q->u);
  ASSERT_EQ(m.plots.size(), 2u);
  EXPECT_EQ(m.plots[1].part.str(), "sub");
}

TEST(Batteries, ASmallLoadStepGivesNoResistance) {
  Rig rig;
  rig.phone.on_load = [&](int, int) { rig.pack.workers = 0.5; };
  const auto m = measured(rig);
  EXPECT_EQ(find(m, "batteries.resistance_mohm", "main"), nullptr);
  EXPECT_EQ(find(m, "batteries.rest_ocv_error_mv", "main"), nullptr);
  EXPECT_NE(find(m, "batteries.soh_pct", "main"), nullptr);
}

TEST(Batteries, WithoutCellsThePartIsCalledCombined) {
  Rig rig;
  rig.readable = false;
  const auto m = measured(rig);
  EXPECT_NE(find(m, "batteries.load_sag_mv", "combined"), nullptr);
  EXPECT_NE(find(m, "batteries.temperature_c", "combined"), nullptr);
  for (const auto& x : m.measures) EXPECT_EQ(x.part.str(), "combined") << x.key.view();
}

TEST(Batteries, ASignThatCannotBeSettledIsNotTested) {
  Rig no_step;
  no_step.phone.on_load = [](int, int) {};
  no_step.status = phone::ChargeStatus::unknown;
  EXPECT_EQ(Batteries::measure(acquired(no_step).value(), config()).error().code, ErrorCode::unsupported);

  // A driver that gives sizes without a sign: the load step says one thing, the status another.
  Rig sizes;
  sizes.pack.usb_ma = 0;
  sizes.status = phone::ChargeStatus::discharging;
  auto capture = acquired(sizes).value();
  for (auto& t : capture.cells)
    for (auto& s : t.samples) s.current_ma = (s.phase == 1 ? 100 : 400);
  EXPECT_EQ(Batteries::measure(capture, config()).error().code, ErrorCode::unsupported);
}

struct Stop {
  const char* name;
  std::function<void(Rig&)> set;
  const char* says;
  bool under_load;
};
void PrintTo(const Stop& s, std::ostream* os) { *os << s.name; }
class BatteriesStop : public testing::TestWithParam<Stop> {};
TEST_P(BatteriesStop, StopsTheLoadAndSaysSafety) {
  Rig rig;
  GetParam().set(rig);
  const auto r = acquired(rig);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::safety);
  EXPECT_THAT(r.error().what, testing::HasSubstr(GetParam().says));
  EXPECT_THAT(r.error().next, testing::HasSubstr("do not charge"));
  EXPECT_EQ(rig.phone.called("start_load"), GetParam().under_load);
  EXPECT_EQ(rig.phone.called("stop_load"), GetParam().under_load);
  EXPECT_EQ(rig.pack.workers, 0);
}
const Stop kStops[] = {
    {"HeatsUnderLoad", [](Rig& r) { r.pack.heat_c_per_s = 2; }, "too hot", true},
    {"HotFromTheStart", [](Rig& r) { r.pack.temperature_c = 45.2; }, "too hot", false},
    {"OverVoltage", [](Rig& r) { r.voltage_lie_mv = 4501; }, "voltage is too high", false},
    {"UnderVoltage", [](Rig& r) { r.voltage_lie_mv = 2999; }, "voltage is too low", false},
    {"Overheat", [](Rig& r) { r.health = 3; }, "overheats", false},
    {"Dead", [](Rig& r) { r.health = 4; }, "dead", false},
    {"OverVoltageByHealth", [](Rig& r) { r.health = 5; }, "too high a voltage", false},
    {"Failed", [](Rig& r) { r.health = 6; }, "has failed", false},
    {"SagsUnderLoad",
     [](Rig& r) {
       r.pack.cells[0].soc = r.pack.cells[1].soc = 0.01,
       r.pack.cells[0].r0_ohm = r.pack.cells[1].r0_ohm = 1.4;
     },
     "voltage is too low", true},
};
INSTANTIATE_TEST_SUITE_P(All, BatteriesStop, testing::ValuesIn(kStops),
                         [](const auto& i) { return std::string(i.param.name); });

TEST(Batteries, ExactlyAtTheSafetyBoundsGoesOn) {
  Rig rig;
  rig.pack.temperature_c = 45;
  EXPECT_TRUE(acquired(rig));
  Rig low;
  low.voltage_lie_mv = 3000;
  EXPECT_TRUE(acquired(low));
}

struct Refusal {
  const char* name;
  std::function<void(Rig&)> set;
  const char* says;
};
void PrintTo(const Refusal& s, std::ostream* os) { *os << s.name; }
class BatteriesRefusal : public testing::TestWithParam<Refusal> {};
TEST_P(BatteriesRefusal, IsNotTestedAndSaysWhy) {
  Rig rig;
  GetParam().set(rig);
  const auto r = acquired(rig);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::unsupported);
  EXPECT_THAT(r.error().what, testing::HasSubstr(GetParam().says));
  EXPECT_FALSE(rig.phone.called("start_load"));
}
const Refusal kRefusals[] = {
    {"Frozen", [](Rig& r) { r.frozen = true; }, "frozen"},
    {"ThermalForced", [](Rig& r) { r.forced = true; }, "thermal state is forced"},
    {"SkinHot", [](Rig& r) { r.skin_c = 47; }, "too hot"},
};
INSTANTIATE_TEST_SUITE_P(All, BatteriesRefusal, testing::ValuesIn(kRefusals),
                         [](const auto& i) { return std::string(i.param.name); });

TEST(Batteries, ACablePulledAnywhereNeverLeavesTheLoadUnasked) {
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
    EXPECT_EQ(rig.phone.called("start_load"), rig.phone.called("stop_load")) << n;
  }
}

TEST(Batteries, TheLoadEndsByItselfWithinAMinute) {
  Rig rig;
  int seconds = 0, workers = 0;
  rig.phone.on_load = [&](int s, int w) { seconds = s, workers = w, rig.pack.workers = w; };
  ASSERT_TRUE(acquired(rig));
  EXPECT_GE(seconds, 20);
  EXPECT_LE(seconds, 60);
  EXPECT_EQ(workers, 4);
}

TEST(Batteries, APhoneWithoutAClockInItsReadingsUsesTheBenchs) {
  Rig rig;
  const auto with_clock = rig.phone.on_battery;
  const auto cell_with_clock = rig.phone.on_cell;
  rig.phone.on_battery = [&] {
    auto r = with_clock();
    r->uptime_s.reset();
    return r;
  };
  rig.phone.on_cell = [&](const std::string& s) {
    auto r = cell_with_clock(s);
    r->uptime_s.reset();
    return r;
  };
  EXPECT_EQ(judged(rig).outcome, Outcome::pass);
}

TEST(Batteries, ACaptureReadBackFromTextMeasuresToTheSameBits) {
  Rig rig;
  rig.pack.cells[1].present = false;
  const auto c = acquired(rig).value();
  const auto back = nlohmann::json::parse(nlohmann::json(c).dump()).get<Batteries::Capture>();
  ASSERT_EQ(back, c);
  const auto a = Batteries::measure(c, config()).value(), b = Batteries::measure(back, config()).value();
  ASSERT_EQ(a.measures.size(), b.measures.size());
  for (std::size_t i = 0; i < a.measures.size(); ++i) {
    EXPECT_EQ(a.measures[i].value, b.measures[i].value);
    EXPECT_EQ(a.measures[i].u, b.measures[i].u);
  }
}

TEST(Batteries, EmptyAndTornCaptures) {
  Batteries::Capture empty;
  EXPECT_EQ(Batteries::measure(empty, config()).error().code, ErrorCode::bad_format);
  empty.cells.resize(2);
  EXPECT_EQ(Batteries::measure(empty, config()).error().code, ErrorCode::unsupported);

  Rig rig;
  const auto whole = acquired(rig).value();
  auto mixed = whole;
  std::swap(mixed.cells[0].samples[2], mixed.cells[0].samples[9]);
  EXPECT_EQ(Batteries::measure(mixed, config()).error().code, ErrorCode::bad_format);
  auto cut = whole;
  for (auto& t : cut.cells) t.samples.resize(25);  // ends in the load
  const auto m = Batteries::measure(cut, config());
  ASSERT_TRUE(m);
  EXPECT_EQ(find(*m, "batteries.resistance_mohm", "main"), nullptr);
}

TEST(Batteries, ALimitExactlyAtTheValueIsMarginal) {
  Rig rig;
  const auto c = acquired(rig).value();
  const double r = find(Batteries::measure(c, config()).value(), "batteries.resistance_mohm", "main")->value;
  const std::vector<Limit> at{{"batteries.resistance_mohm", ShopText{"main"}, {}, r, LimitOrigin::learned}};
  EXPECT_EQ(Erased<Batteries>{}.judge(nlohmann::json(c), sections(petal()), at)->outcome, Outcome::marginal);
}

TEST(Batteries, AProfileThatCannotBeIsRefused) {
  EXPECT_FALSE(Batteries::configure({}));
  auto s = sections(petal());
  s.all.back().second.values["ocv_v"] = std::vector<double>{3.0, 3.5};
  EXPECT_FALSE(Batteries::configure(s));
  s = sections(petal());
  s.all.pop_back();
  EXPECT_FALSE(Batteries::configure(s));
}
}  // namespace
}  // namespace hb::checks
