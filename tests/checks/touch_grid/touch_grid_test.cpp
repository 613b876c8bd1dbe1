#include "checks/touch_grid/touch_grid.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <memory>

#include "bench.hpp"

namespace hb::checks {
namespace {
using testing::Bench;
using testing::FakePhone;
using testing::Panel;
using testing::Spot;

/// The invented clamshell's two panels.
TouchGrid::Config two_panels() {
  TouchGrid::Config c;
  c.displays.push_back({ShopText("inner"), 1079, 2639, 70.0, 171.1, 1320, 240});
  c.displays.push_back({ShopText("outer"), 719, 747, 60.0, 62.3, 0, 120});
  return c;
}
Panel outer_panel() {
  Panel p;
  p.node = 4, p.max_x = 719, p.max_y = 747, p.width_mm = 60, p.height_mm = 62.3, p.rate_hz = 120;
  return p;
}

std::vector<Limit> limits() {
  const auto at = [](const char* key, std::optional<double> lower, std::optional<double> upper) {
    return Limit{std::string("touch_grid.") + key, {}, lower, upper, LimitOrigin::common_practice};
  };
  return {at("devices_found", 2, {}),    at("dead_area_pct", {}, 2),         at("dead_region_cells", {}, 4),
          at("edge_reach_mm", {}, 3),    at("straightness_rms_mm", {}, 0.8), at("jitter_mm", {}, 0.3),
          at("report_rate_hz", 100, {}), at("ghost_contacts", {}, 0),        at("contacts_max", 2, {}),
          at("lost_contacts", {}, 5)};
}

Result<nlohmann::json> capture_of(Bench& bench, FakePhone& phone, const TouchGrid::Config& config) {
  net::io_context io;
  std::optional<Result<nlohmann::json>> out;
  Context context{phone, nullptr, bench, bench, bench};
  net::co_spawn(
      io,
      [&]() -> net::awaitable<void> {
        auto c = co_await TouchGrid{}.acquire(context, config);
        if (c)
          out.emplace(nlohmann::json(*c));
        else
          out.emplace(c.error());
      },
      net::detached);
  io.run();
  return std::move(*out);
}

Result<CheckResult> judge(const nlohmann::json& j, const TouchGrid::Config& config) {
  const auto c = j.get<TouchGrid::Capture>();
  const auto lim = limits();
  return finish_result(TouchGrid::needs(), TouchGrid::measure(c, config), lim,
                       [&](std::span<const Verdict> v) { return TouchGrid::diagnose(v, c, config); });
}

CheckResult run(Panel inner, std::optional<Panel> outer = outer_panel()) {
  Bench bench;
  FakePhone phone(bench);
  phone.devices.push_back({9, 32767, 32767, 0});  // a pen, say: no display of ours
  bench.panels.emplace("inner", inner);
  phone.devices.push_back({inner.node, inner.max_x, inner.max_y, 9});
  if (outer) {
    bench.panels.emplace("outer", *outer);
    phone.devices.push_back({outer->node, outer->max_x, outer->max_y, 9});
  }
  auto capture = capture_of(bench, phone, two_panels());
  EXPECT_TRUE(capture);
  auto result = judge(*capture, two_panels());
  EXPECT_TRUE(result);
  return std::move(*result);
}

const Verdict* find(const CheckResult& r, std::string_view key, std::string_view part) {
  for (const Verdict& v : r.verdicts)
    if (v.measure.key.view() == std::string("touch_grid.") + std::string(key) && v.measure.part.str() == part)
      return &v;
  return nullptr;
}
double value(const CheckResult& r, std::string_view key, std::string_view part = "inner") {
  const Verdict* v = find(r, key, part);
  return v != nullptr ? v->measure.value : NAN;
}
std::vector<std::string> ids(const CheckResult& r) {
  std::vector<std::string> out;
  for (const Finding& f : r.findings) out.push_back(f.id.str() + "@" + f.part.str());
  return out;
}

TEST(TouchGrid, GoodPhonePassesWithEveryMeasureTaken) {
  const CheckResult r = run({});
  EXPECT_EQ(name(r.outcome).view(), "pass") << r.reason;
  EXPECT_TRUE(r.findings.empty());
  EXPECT_EQ(value(r, "devices_found", ""), 2);
  for (const char* part : {"inner", "outer"}) {
    EXPECT_EQ(value(r, "dead_area_pct", part), 0) << part;
    EXPECT_EQ(value(r, "dead_region_cells", part), 0) << part;
    EXPECT_LT(value(r, "edge_reach_mm", part), 0.5) << part;
    EXPECT_EQ(value(r, "contacts_max", part), 2) << part;
    EXPECT_EQ(value(r, "lost_contacts", part), 0) << part;
    EXPECT_EQ(value(r, "ghost_contacts", part), 0) << part;
  }
  // The panel was made with 0.05 mm of noise in each coordinate and these rates.
  EXPECT_NEAR(value(r, "straightness_rms_mm"), 0.05, 0.01);
  EXPECT_NEAR(value(r, "jitter_mm"), 0.05, 0.01);
  EXPECT_NEAR(value(r, "report_rate_hz"), 240, 0.5);
  EXPECT_NEAR(value(r, "report_rate_hz", "outer"), 120, 0.5);
  for (const Verdict& v : r.verdicts) EXPECT_TRUE(std::isfinite(v.measure.u) && v.measure.u >= 0);
  ASSERT_EQ(r.plots.size(), 2U);
  EXPECT_EQ(r.plots[0].series[0].values.size(), static_cast<std::size_t>(r.plots[0].cols * r.plots[0].rows));
  EXPECT_EQ(r.plots[0].series[1].values.size(), 2U);
  EXPECT_TRUE(r.plots[1].series[1].values.empty());
}

struct FaultRow {
  std::string name;
  std::function<void(Panel&)> damage;
  std::string finding;
  std::string outcome;
};
void PrintTo(const FaultRow& r, std::ostream* o) { *o << r.name; }
class TouchFault : public ::testing::TestWithParam<FaultRow> {};
TEST_P(TouchFault, IsFoundAndNamed) {
  const auto& row = GetParam();
  Panel p;
  row.damage(p);
  const CheckResult r = run(p);
  EXPECT_EQ(name(r.outcome).view(), row.outcome);
  if (row.finding.empty())
    EXPECT_TRUE(r.findings.empty());
  else
    EXPECT_EQ(ids(r), std::vector<std::string>{row.finding + "@inner"});
}
const auto dead_where = [](std::function<bool(Spot)> where) { return [where](Panel& p) { p.dead = where; }; };
INSTANTIATE_TEST_SUITE_P(
    Shapes, TouchFault,
    ::testing::Values(
        FaultRow{"BandOnTheFold", dead_where([](Spot s) { return std::abs(s.y - 85.55) < 4; }),
                 "fold_flex_pinched", "fail"},
        FaultRow{"NarrowBandOnTheFold", dead_where([](Spot s) { return std::abs(s.y - 85.55) < 2.5; }),
                 "fold_flex_pinched", "fail"},
        FaultRow{"RowAwayFromTheFold", dead_where([](Spot s) { return std::abs(s.y - 45) < 2.5; }),
                 "row_line_open", "fail"},
        FaultRow{"BroadRow", dead_where([](Spot s) { return std::abs(s.y - 45) < 5; }), "row_line_open",
                 "fail"},
        FaultRow{"LastRow", dead_where([](Spot s) { return s.y > 164; }), "row_line_open", "fail"},
        FaultRow{"Column", dead_where([](Spot s) { return std::abs(s.x - 25) < 5; }), "column_line_open",
                 "fail"},
        FaultRow{"ThinColumnBetweenTwoCells", dead_where([](Spot s) { return std::abs(s.x - 25) < 2.25; }),
                 "column_line_open", "fail"},
        FaultRow{"FirstColumn", dead_where([](Spot s) { return s.x < 5; }), "column_line_open", "fail"},
        FaultRow{"Blob", dead_where([](Spot s) { return std::hypot(s.x - 50, s.y - 133) < 7.5; }),
                 "panel_damaged", "fail"},
        FaultRow{"BlobAcrossTheFold", dead_where([](Spot s) { return std::hypot(s.x - 40, s.y - 88) < 7.5; }),
                 "panel_damaged", "fail"},
        FaultRow{"GhostsAtRest", [](Panel& p) { p.ghosts_at_rest = 3; }, "ghost_contacts", "fail"},
        FaultRow{"NothingFelt", [](Panel& p) { p.felt = false; }, "digitizer_not_connected", "fail"}),
    [](const auto& row) { return row.param.name; });

// What a hand does wrong is asked again or does not matter: it must not fail a good panel.
INSTANTIATE_TEST_SUITE_P(
    Hands, TouchFault,
    ::testing::Values(FaultRow{"MissesASpot", dead_where([](Spot s) {
                                 return std::abs(s.x - 32.5) < 2 && std::abs(s.y - 52) < 3;
                               }),
                               "", "pass"},
                      FaultRow{"MissesFourSpotsApart", dead_where([](Spot s) {
                                 for (const Spot c : {Spot{12.5, 22}, {52, 22}, {12.5, 142}, {52, 142}})
                                   if (std::abs(s.x - c.x) < 2 && std::abs(s.y - c.y) < 1.9) return true;
                                 return false;
                               }),
                               "", "pass"},
                      FaultRow{"KeepsTwoMillimetresFromTheEdges", [](Panel& p) { p.edge_kept_mm = 2; }, "",
                               "pass"},
                      FaultRow{"OneSynDropped", [](Panel& p) { p.drop_at_s = 5; }, "", "pass"}),
    [](const auto& row) { return row.param.name; });

// A healthy panel of a phone that had slept for a minute was judged dead: uptime, which counts the sleep, was
// compared with the digitizer's clock, which does not.
TEST(TouchGrid, APhoneThatSleptIsJudgedAsOneThatDidNot) {
  std::optional<nlohmann::json> awake;
  for (const double slept_s : {0.0, 6.0, 60.0, 36000.0}) {
    Bench bench;
    bench.slept_s = slept_s;
    bench.panels.emplace("inner", Panel{});
    bench.panels.emplace("outer", outer_panel());
    FakePhone phone(bench);
    phone.devices = {{3, 1079, 2639}, {4, 719, 747}};
    const auto capture = capture_of(bench, phone, two_panels());
    ASSERT_TRUE(capture) << capture.error().message();
    if (!awake) awake = *capture;
    EXPECT_EQ(*capture, *awake) << slept_s;
    const auto r = judge(*capture, two_panels());
    ASSERT_TRUE(r);
    EXPECT_EQ(r->outcome, Outcome::pass) << slept_s << " " << r->reason;
  }
}

TEST(TouchGrid, ASkippedStrokeIsPaintedMissingAndNotPassed) {
  Panel p;
  p.skip = [](double y) { return std::abs(y - 49) < 3.9; };
  const CheckResult r = run(p);
  EXPECT_NE(name(r.outcome).view(), "pass");
}

TEST(TouchGrid, NoGuidedStrokesLeavesStraightnessNotTested) {
  Panel p;
  p.guided = false;
  const CheckResult r = run(p, [] {
    Panel o = outer_panel();
    o.guided = false;
    return o;
  }());
  EXPECT_TRUE(std::isnan(value(r, "straightness_rms_mm")));
  EXPECT_EQ(name(r.outcome).view(), "not tested");
}

TEST(TouchGrid, MissingDigitizerAmongOthersFailsAndNamesThePanel) {
  const CheckResult r = run({}, std::nullopt);
  EXPECT_EQ(name(r.outcome).view(), "fail");
  EXPECT_EQ(ids(r), std::vector<std::string>{"digitizer_not_connected@outer"});
}

TEST(TouchGrid, NoTouchDeviceAtAllIsNotTested) {
  Bench bench;
  FakePhone phone(bench);
  const auto c = capture_of(bench, phone, two_panels());
  ASSERT_FALSE(c);
  EXPECT_EQ(c.error().code, ErrorCode::unsupported);
}

TEST(TouchGrid, NobodySweepsIsNotTestedAfterABoundedTime) {
  Bench bench;
  FakePhone phone(bench);
  bench.never_done = true;
  phone.devices = {{3, 1079, 2639, 9}, {4, 719, 747, 9}};
  const auto c = capture_of(bench, phone, two_panels());
  ASSERT_TRUE(c);
  EXPECT_LT(bench.now(), std::chrono::minutes(12));
  const auto r = judge(*c, two_panels());
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "not tested");
}

TEST(TouchGrid, LostLinkIsPassedOn) {
  Bench bench;
  FakePhone phone(bench);
  phone.devices = {{3, 1079, 2639, 9}, {4, 719, 747, 9}};
  bench.hands_fail = Error{ErrorCode::link_lost, "gone", "", ""};
  const auto c = capture_of(bench, phone, two_panels());
  ASSERT_FALSE(c);
  EXPECT_EQ(c.error().code, ErrorCode::link_lost);
}

TEST(TouchGrid, ASweepThatNobodyDidIsAskedForOnceMore) {
  for (const auto& [forgotten, asked, outcome] :
       {std::tuple(0, 2, "pass"), {1, 3, "pass"}, {99, 4, "fail"}}) {
    Bench bench;
    FakePhone phone(bench);
    bench.panels.emplace("inner", Panel{});
    bench.panels.emplace("outer", outer_panel());
    phone.devices = {{3, 1079, 2639, 9}, {4, 719, 747, 9}};
    bench.forgotten_sweeps = forgotten;
    const auto c = capture_of(bench, phone, two_panels());
    ASSERT_TRUE(c) << c.error().message();
    EXPECT_EQ(bench.sweeps, asked) << forgotten;
    const auto r = judge(*c, two_panels());
    ASSERT_TRUE(r);
    EXPECT_EQ(name(r->outcome).view(), outcome) << forgotten;
  }
}

TEST(TouchGrid, AStuckStreamOfEventsIsNotJudged) {
  Bench bench;
  FakePhone phone(bench);
  phone.devices = {{3, 1079, 2639, 9}, {4, 719, 747, 9}};
  bench.stream_stuck = true;
  const auto c = capture_of(bench, phone, two_panels());
  ASSERT_FALSE(c);
  EXPECT_EQ(c.error().code, ErrorCode::timed_out);
}

nlohmann::json good_capture(std::vector<std::pair<int, int>>* painted = nullptr) {
  Bench bench;
  FakePhone phone(bench);
  bench.panels.emplace("inner", Panel{});
  bench.panels.emplace("outer", outer_panel());
  phone.devices = {{3, 1079, 2639, 9}, {4, 719, 747, 9}};
  auto c = capture_of(bench, phone, two_panels());
  if (painted != nullptr) *painted = bench.painted;
  return std::move(*c);
}

TEST(TouchGrid, LivePaintingShowsEveryCellOnce) {
  std::vector<std::pair<int, int>> painted;
  const auto j = good_capture(&painted);
  const auto m = TouchGrid::measure(j.get<TouchGrid::Capture>(), two_panels());
  ASSERT_TRUE(m);
  EXPECT_EQ(painted.size(), static_cast<std::size_t>(m->plots[0].cols * m->plots[0].rows +
                                                     m->plots[1].cols * m->plots[1].rows));
}

TEST(TouchGrid, ReplayFromJsonTextGivesTheSameBits) {
  const auto j = good_capture();
  const auto a = TouchGrid::measure(j.get<TouchGrid::Capture>(), two_panels());
  const auto b = TouchGrid::measure(nlohmann::json::parse(j.dump()).get<TouchGrid::Capture>(), two_panels());
  ASSERT_TRUE(a && b);
  ASSERT_EQ(a->measures.size(), b->measures.size());
  for (std::size_t i = 0; i < a->measures.size(); ++i) {
    EXPECT_EQ(a->measures[i].value, b->measures[i].value);
    EXPECT_EQ(a->measures[i].u, b->measures[i].u);
  }
}

TEST(TouchGrid, TornCapturesAreRefusedNeverJudged) {
  const auto good = good_capture();
  const std::vector<std::function<void(nlohmann::json&)>> tears{
      [](auto& j) { j["displays"][0]["points"]["x"].erase(3); },
      [](auto& j) { j["displays"][0]["points"]["contact"][0] = 100000; },
      [](auto& j) { j["displays"][0]["points"]["contact"][0] = -1; },
      [](auto& j) { j["displays"][0]["points"]["t_us"][0] = 9e15; },
      [](auto& j) { j["displays"].erase(1); },
      [](auto& j) { j["displays"][0]["sweep_to_us"] = 0; },
      [](auto& j) { j["displays"][0]["dropped_to_us"] = {1}; }};
  for (std::size_t i = 0; i < tears.size(); ++i) {
    auto j = good;
    tears[i](j);
    const auto m = TouchGrid::measure(j.get<TouchGrid::Capture>(), two_panels());
    ASSERT_FALSE(m) << i;
    EXPECT_EQ(m.error().code, ErrorCode::bad_format) << i;
  }
}

TEST(TouchGrid, ProfileMistakesAreNamed) {
  EXPECT_FALSE(TouchGrid::configure({}));
  Section s;
  s.name = ShopText("inner");
  s.values = {{"touch_max_x", 1079}, {"touch_max_y", 2639}, {"width_mm", 70},
              {"height_mm", 171.1},  {"fold_y_px", 5000},   {"report_rate_hz", 240}};
  Sections all;
  all.all.emplace_back("display", s);
  const auto bad = TouchGrid::configure(all);
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().where, "display.fold_y_px");
  all.all[0].second.values["fold_y_px"] = 1320;
  EXPECT_TRUE(TouchGrid::configure(all));
}

}  // namespace
}  // namespace hb::checks
