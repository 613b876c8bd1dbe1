// The hinge-angle sweep against a small hinge: an angle over time, a sensor with noise and faults, a ring of
// the last ten events. Expected values are the model's own parameters.
#include "checks/hinge_sweep/hinge_sweep.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <deque>
#include <random>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;
using testing::ElementsAre;
using testing::IsEmpty;

struct Hinge {
  double offset = 0, hysteresis = 0.8, noise = 0.25, closes_at = 0;
  double silent_from = 999, silent_to = -999;  // drop-out band
  double jump_at = -1;                         // one lost stretch, in the first closing only
  bool quiet = false;                          // sends nothing at rest
  double rate_hz = 50;
  std::size_t ring_size = 10;

  void move_to(double now, double deg, double seconds) {
    const double from = true_deg(std::max(now, until()));
    segments.push_back({std::max(now, until()), seconds, from, std::max(deg, closes_at)});
  }
  void rest(double seconds) { move_to(until(), segments.back().to, seconds); }
  [[nodiscard]] double until() const {
    return segments.empty() ? 0 : segments.back().t0 + segments.back().seconds;
  }
  [[nodiscard]] double true_deg(double t) const {
    double deg = 180;
    for (const auto& s : segments) {
      if (t < s.t0) break;
      const double x = std::clamp((t - s.t0) / s.seconds, 0.0, 1.0);
      deg = s.from + (s.to - s.from) * x * x * (3 - 2 * x);
    }
    return deg;
  }
  void run_to(double t) {
    if (next == 0) next = t;
    for (; next <= t; next += 1 / rate_hz) {
      const double deg = true_deg(next), d = deg - true_deg(next - 0.001);
      if (d != 0) direction = d > 0 ? 1 : -1;
      if (deg > silent_from && deg < silent_to) continue;
      if (jump_at > 0 && next < first_closing_until && deg < jump_at && deg > jump_at - 25) continue;
      const double said = deg + offset - direction * hysteresis / 2 + (quiet ? 0 : noise * random());
      if (quiet && std::abs(said - sent) < 0.01) continue;
      sent = said;
      ring.push_back({next, {std::round(said * 100) / 100}});
      if (ring.size() > ring_size) ring.pop_front();
    }
  }

  struct Segment {
    double t0, seconds, from, to;
  };
  std::vector<Segment> segments;
  std::deque<phone::SensorEvent> ring;
  fakes::Noise random{7};
  double next = 0, direction = -1, sent = -1, first_closing_until = 1e9;
};

struct Rig : Bench {
  Hinge hinge;
  phone::SensorReading last;
  bool listed = true, masked = false, silent = false, states = true;
  double forced_from_s = 1e9;

  Rig() {
    time.on_move = [this](double t) { hinge.run_to(t); };
    phone.on_sensor = [this] {
      phone::SensorReading r{listed, masked, {}};
      if (!silent) r.events.assign(hinge.ring.begin(), hinge.ring.end());
      return Result<phone::SensorReading>(r);
    };
    phone.on_state = [this]() -> Result<phone::DeviceState> {
      if (!states) return Error{ErrorCode::unsupported, "one state only", "", ""};
      const double deg = hinge.true_deg(time.s);
      return phone::DeviceState{deg < 25    ? phone::FoldState::closed
                                : deg < 150 ? phone::FoldState::half_open
                                            : phone::FoldState::open,
                                time.s > forced_from_s};
    };
    hands.seconds = [](const Action& a) {
      const auto* f = std::get_if<FoldCycles>(&a);
      return f != nullptr ? 4.8 * f->cycles : 2.3;
    };
    hands.on_begin = [this](const Action& a) {
      if (const auto* hold = std::get_if<HoldAtStop>(&a)) {
        hinge.move_to(time.s, hold->degrees, 0.8);
        hinge.rest(1.5);
        return;
      }
      hinge.first_closing_until = time.s + 2;
      for (int i = 0; i < std::get<FoldCycles>(a).cycles; ++i) {
        hinge.move_to(time.s, 0, 1.6);
        hinge.rest(0.8);
        hinge.move_to(time.s, 180, 1.6);
        hinge.rest(0.8);
      }
    };
  }
};

HingeSweep::Config config() {
  HingeSweep::Config c;
  c.fold_closed_below_deg = 25;
  c.fold_open_above_deg = 150;
  return c;
}
Sections sections() {
  Section s;
  s.values = {{"closed_deg", 0.0},
              {"flat_deg", 180.0},
              {"fold_closed_below_deg", 25.0},
              {"fold_open_above_deg", 150.0}};
  return {{{"hinge", s}}};
}
std::vector<Limit> limits() {
  const auto between = [](const char* key, std::optional<double> lower, std::optional<double> upper) {
    return Limit{key, {}, lower, upper, LimitOrigin::common_practice};
  };
  return {
      between("hinge_sweep.range_deg", 170, 190),      between("hinge_sweep.offset_closed_deg", -5, 5),
      between("hinge_sweep.offset_square_deg", -5, 5), between("hinge_sweep.offset_flat_deg", -5, 5),
      between("hinge_sweep.hysteresis_deg", {}, 3),    between("hinge_sweep.monotone_residual_deg", {}, 1.5),
      between("hinge_sweep.gap_deg", {}, 10),          between("hinge_sweep.dropout_clusters", {}, 0),
      between("hinge_sweep.noise_deg", {}, 1),         between("hinge_sweep.repeatability_deg", {}, 2)};
}

HingeSweep::Capture capture_of(Rig& rig) {
  return fakes::run(HingeSweep{}.acquire(rig.context, config())).value();
}
CheckResult judged(const HingeSweep::Capture& c) {
  return Erased<HingeSweep>{}.judge(nlohmann::json(c), sections(), limits()).value();
}
Measured measured(const HingeSweep::Capture& c) { return HingeSweep::measure(c, config()).value(); }

struct Situation {
  const char* name;
  std::function<void(Rig&)> set;
  Outcome outcome;
  std::vector<std::string> findings;
};
void PrintTo(const Situation& s, std::ostream* os) { *os << s.name; }

class HingeSweepSituation : public testing::TestWithParam<Situation> {};

TEST_P(HingeSweepSituation, IsToldByNameOrPasses) {
  Rig rig;
  GetParam().set(rig);
  const auto r = judged(capture_of(rig));
  EXPECT_EQ(r.outcome, GetParam().outcome) << r.reason;
  EXPECT_EQ(fakes::finding_ids(r.findings), GetParam().findings);
}

const Situation kSituations[] = {
    {"AGoodHinge", [](Rig&) {}, Outcome::pass, {}},
    {"AGoodHingeWithAnotherSeat", [](Rig& r) { r.hinge.offset = 1.8; }, Outcome::pass, {}},
    {"AQuietSensorKeepsItsLastValue", [](Rig& r) { r.hinge.quiet = true; }, Outcome::pass, {}},
    {"APhoneWithoutFoldStates", [](Rig& r) { r.states = false; }, Outcome::pass, {}},
    {"MagnetShifted", [](Rig& r) { r.hinge.offset = 9; }, Outcome::fail, {"sensor_or_magnet_seated_wrong"}},
    {"MagnetShiftedTheOtherWay",
     [](Rig& r) { r.hinge.offset = -9; },
     Outcome::fail,
     {"sensor_or_magnet_seated_wrong"}},
    {"DropoutsAtOneAngleMeanLooseFlex",
     [](Rig& r) { r.hinge.silent_from = 85, r.hinge.silent_to = 105; },
     Outcome::fail,
     {"hinge_flex_loose"}},
    {"DropoutsOnAQuietSensor",
     [](Rig& r) { r.hinge.silent_from = 85, r.hinge.silent_to = 105, r.hinge.quiet = true; },
     Outcome::fail,
     {"hinge_flex_loose"}},
    {"OneJumpOnly", [](Rig& r) { r.hinge.jump_at = 120; }, Outcome::fail, {"hinge_flex_loose"}},
    {"NotClosing", [](Rig& r) { r.hinge.closes_at = 14; }, Outcome::fail, {"hinge_not_closing"}},
    {"PlayInTheSeat", [](Rig& r) { r.hinge.hysteresis = 7; }, Outcome::fail, {"hinge_sensor_play"}},
    // Slow polling loses events: what cannot be seen is not judged, and never called a fault of the sensor.
    {"ASensorFasterThanItsRing", [](Rig& r) { r.hinge.rate_hz = 400; }, Outcome::not_tested, {}},
};
INSTANTIATE_TEST_SUITE_P(All, HingeSweepSituation, testing::ValuesIn(kSituations),
                         [](const auto& i) { return std::string(i.param.name); });

TEST(HingeSweep, TheMeasuresAreTheModelsOwnFigures) {
  Rig rig;
  rig.hinge.offset = 1.2;
  rig.hinge.hysteresis = 2;
  const auto m = measured(capture_of(rig));
  const struct {
    const char* key;
    double expected, tolerance;
  } rows[] = {
      // Closed is reached by closing and flat by opening, so half the play (1 deg) adds and subtracts there.
      {"hinge_sweep.offset_closed_deg", 1.2 + 1, 0.3},
      {"hinge_sweep.offset_square_deg", 1.2, 0.2},
      {"hinge_sweep.offset_flat_deg", 1.2 - 1, 0.3},
      {"hinge_sweep.hysteresis_deg", 2, 0.3},
      {"hinge_sweep.noise_deg", 0.25, 0.05},
      {"hinge_sweep.range_deg", 178, 0.4},
      {"hinge_sweep.gap_deg", 0.7, 0.7},
      {"hinge_sweep.repeatability_deg", 0, 0.2},
      {"hinge_sweep.switch_closed_error_deg", 0, 3},
      {"hinge_sweep.switch_open_error_deg", 0, 3},
  };
  for (const auto& row : rows) {
    const auto* x = find(m, row.key);
    ASSERT_NE(x, nullptr) << row.key;
    EXPECT_NEAR(x->value, row.expected, row.tolerance) << row.key;
    EXPECT_GT(x->u, 0) << row.key;
  }
  EXPECT_EQ(find(m, "hinge_sweep.dropout_clusters")->value, 0);
  ASSERT_EQ(m.plots.size(), 1u);
  EXPECT_LE(m.plots[0].series[0].values.size(), 200u);
}

TEST(HingeSweep, ALostSquareLeavesOutItsMeasuresAndInventsNone) {
  Rig rig;
  rig.hinge.silent_from = 85, rig.hinge.silent_to = 105;
  const auto m = measured(capture_of(rig));
  EXPECT_EQ(find(m, "hinge_sweep.offset_square_deg"), nullptr);
  EXPECT_EQ(find(m, "hinge_sweep.hysteresis_deg"), nullptr);
  EXPECT_EQ(find(m, "hinge_sweep.dropout_clusters")->value, 1);
  EXPECT_NEAR(find(m, "hinge_sweep.gap_deg")->value, 20, 4);
  EXPECT_NEAR(find(m, "hinge_sweep.gap_at_deg")->value, 95, 3);
}

/// What remains when some answers never came: an event counts when an answer that did come showed it. The
/// last one comes always: a deed is not over without it.
HingeSweep::Capture with_outages(const HingeSweep::Capture& whole, std::mt19937& random) {
  auto c = whole;
  const double begin = whole.polls.front().oldest_s, end = whole.polls.back().newest_s;
  const auto uniform = [&](double a, double b) { return std::uniform_real_distribution<>(a, b)(random); };
  for (int outages = std::uniform_int_distribution<>(1, 30)(random); outages > 0; --outages) {
    const double from = uniform(begin, end), to = from + uniform(0.1, 1.5);
    std::erase_if(c.polls, [&](auto& p) { return p.newest_s > from && p.newest_s < std::min(to, end); });
  }
  std::erase_if(c.events, [&](auto& e) {
    return std::none_of(c.polls.begin(), c.polls.end(),
                        [&](auto& p) { return p.oldest_s <= e.t_s && e.t_s <= p.newest_s; });
  });
  return c;
}

TEST(HingeSweep, AnswersThatCameTooLateNeverFailAGoodHinge) {
  std::mt19937 random(20261125);
  int judged_whole = 0;
  for (const bool quiet : {false, true}) {
    Rig rig;
    rig.hinge.quiet = quiet;
    const auto whole = capture_of(rig);
    for (int trial = 0; trial < 1000; ++trial) {
      const auto r = judged(with_outages(whole, random));
      for (const auto& v : r.verdicts)
        ASSERT_TRUE(!v.limit || v.outcome != Outcome::fail)
            << v.measure.key.view() << " " << v.measure.value << (quiet ? ", quiet" : "") << ", trial "
            << trial;
      ASSERT_THAT(r.findings, IsEmpty()) << "trial " << trial;
      judged_whole += r.outcome == Outcome::pass;
    }
  }
  EXPECT_GT(judged_whole, 20);  // a few short outages are no reason to judge nothing
}

struct Refusal {
  const char* name;
  std::function<void(Rig&)> set;
  const char* says;
};
void PrintTo(const Refusal& s, std::ostream* os) { *os << s.name; }
class HingeSweepRefusal : public testing::TestWithParam<Refusal> {};
TEST_P(HingeSweepRefusal, IsNotTestedAndSaysWhy) {
  Rig rig;
  GetParam().set(rig);
  const auto r = fakes::run(HingeSweep{}.acquire(rig.context, config()));
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::unsupported);
  EXPECT_THAT(r.error().what, testing::HasSubstr(GetParam().says));
}
const Refusal kRefusals[] = {
    {"ForcedState", [](Rig& r) { r.forced_from_s = 0; }, "the fold state is forced on this phone"},
    {"ForcedInTheMiddle", [](Rig& r) { r.forced_from_s = 1008; }, "the fold state is forced on this phone"},
    {"NotListed", [](Rig& r) { r.listed = false; }, "lists no hinge-angle sensor"},
    {"Masked", [](Rig& r) { r.masked = true, r.silent = true; }, "hides the values"},
    {"Silent", [](Rig& r) { r.silent = true; }, "the hinge sensor showed no events: not exercised"},
    {"OnlyOldEventsInTheRing",
     [](Rig& r) {
       r.hinge.run_to(999.9);
       r.hinge.silent_from = -999, r.hinge.silent_to = 999;
     },
     "the hinge sensor showed no events: not exercised"}};
INSTANTIATE_TEST_SUITE_P(All, HingeSweepRefusal, testing::ValuesIn(kRefusals),
                         [](const auto& i) { return std::string(i.param.name); });

TEST(HingeSweep, AsksForTheSquareFromBothSidesAndEndsFlat) {
  Rig rig;
  capture_of(rig);
  std::vector<double> stops;
  for (const auto& action : rig.hands.actions)
    if (const auto* hold = std::get_if<HoldAtStop>(&action)) stops.push_back(hold->degrees);
  EXPECT_THAT(stops, ElementsAre(0, 90, 180, 90, 180));
}

TEST(HingeSweep, HandsThatNeverFinishTimeOut) {
  Rig rig;
  rig.hands.seconds = [](const Action&) { return 1e9; };
  const auto r = fakes::run(HingeSweep{}.acquire(rig.context, config()));
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::timed_out);
  EXPECT_EQ(rig.hands.enoughs, 1);
}

TEST(HingeSweep, ACablePulledAtAnyCommandIsALinkErrorAndNothingElse) {
  Rig whole;
  whole.phone.fail_at = 1 << 30;
  capture_of(whole);
  const int commands = whole.phone.commands;
  ASSERT_GT(commands, 100);
  for (int n = 0; n < commands; n += 1 + n / 8) {
    Rig rig;
    rig.phone.fail_at = n;
    const auto r = fakes::run(HingeSweep{}.acquire(rig.context, config()));
    ASSERT_FALSE(r) << n;
    EXPECT_EQ(r.error().code, ErrorCode::link_lost) << n;
  }
}

TEST(HingeSweep, ACaptureReadBackFromTextMeasuresToTheSameBits) {
  Rig rig;
  const auto c = capture_of(rig);
  const auto back = nlohmann::json::parse(nlohmann::json(c).dump()).get<HingeSweep::Capture>();
  ASSERT_EQ(back, c);
  const auto a = measured(c), b = measured(back);
  ASSERT_EQ(a.measures.size(), b.measures.size());
  for (std::size_t i = 0; i < a.measures.size(); ++i) {
    EXPECT_EQ(a.measures[i].value, b.measures[i].value);
    EXPECT_EQ(a.measures[i].u, b.measures[i].u);
  }
}

TEST(HingeSweep, EmptyAndTornCaptures) {
  const auto empty = HingeSweep::measure({}, config());
  ASSERT_FALSE(empty);
  EXPECT_EQ(empty.error().code, ErrorCode::unsupported);

  Rig rig;
  const auto whole = capture_of(rig);
  auto mixed = whole;
  std::swap(mixed.events[3], mixed.events[40]);
  EXPECT_EQ(HingeSweep::measure(mixed, config()).error().code, ErrorCode::bad_format);

  auto cut = whole;
  cut.stops.clear();
  EXPECT_EQ(judged(cut).outcome, Outcome::not_tested);
  for (const std::size_t n : {1u, 2u, 3u, 30u, 200u}) {
    cut = whole;
    cut.events.resize(n);
    EXPECT_NE(judged(cut).outcome, Outcome::pass) << n;
  }
  EXPECT_FALSE(Erased<HingeSweep>{}.judge(nlohmann::json::parse("{\"events\":[[1]]}"), sections(), limits()));
}

TEST(HingeSweep, ALimitExactlyAtTheValueIsMarginal) {
  Rig rig;
  const auto c = capture_of(rig);
  const double value = find(measured(c), "hinge_sweep.hysteresis_deg")->value;
  const std::vector<Limit> at{{"hinge_sweep.hysteresis_deg", {}, {}, value, LimitOrigin::learned}};
  EXPECT_EQ(Erased<HingeSweep>{}.judge(nlohmann::json(c), sections(), at)->outcome, Outcome::marginal);
}

TEST(HingeSweep, AProfileThatCannotBeIsRefused) {
  EXPECT_EQ(HingeSweep::configure({}).error().code, ErrorCode::unsupported);
  auto s = sections();
  s.all[0].second.values["flat_deg"] = 20.0;
  EXPECT_EQ(HingeSweep::configure(s).error().code, ErrorCode::invalid_argument);
  s = sections();
  s.all[0].second.values["fold_closed_below_deg"] = 160.0;
  EXPECT_EQ(HingeSweep::configure(s).error().code, ErrorCode::invalid_argument);
  EXPECT_TRUE(HingeSweep::configure(sections()));
}
}  // namespace
}  // namespace hb::checks
