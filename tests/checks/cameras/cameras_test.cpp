#include "checks/cameras/cameras.hpp"

#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <functional>
#include <set>

#include "camera_world.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using namespace testing;

struct FaultRow {
  std::string name;
  std::function<void(Drawn&)> how;
  std::string outcome, finding;
};
void PrintTo(const FaultRow& r, std::ostream* o) { *o << r.name; }
class CameraFault : public ::testing::TestWithParam<FaultRow> {};
TEST_P(CameraFault, IsFoundAndNamed) {
  World w;
  FakePhone phone;
  GetParam().how(w.lenses[{Facing::back, 0}]);
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c) << c.error().message();
  const auto r = judge(*c);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), GetParam().outcome) << r->reason;
  if (GetParam().finding.empty()) {
    EXPECT_TRUE(r->findings.empty());
    return;
  }
  ASSERT_EQ(r->findings.size(), 1U);
  EXPECT_EQ(r->findings[0].id.view(), GetParam().finding);
  EXPECT_EQ(r->findings[0].part.str(), "wide");
  EXPECT_FALSE(r->findings[0].evidence.empty());
}
INSTANTIATE_TEST_SUITE_P(
    Faults, CameraFault,
    ::testing::Values(
        FaultRow{"Good", [](Drawn&) {}, "pass", ""},
        FaultRow{"SharpestAndSoftestGoodLens", [](Drawn& d) { d.sigma_px = 0.87; }, "pass", ""},
        FaultRow{"FilmOnTheLens", [](Drawn& d) { d.veil = 0.3, d.sigma_px = 1.3; }, "fail",
                 "lens_film_left_on"},
        FaultRow{"VeilAlone", [](Drawn& d) { d.veil = 0.2; }, "fail", "lens_film_left_on"},
        FaultRow{"Tilted", [](Drawn& d) { d.sigma_right_px = 2.2; }, "fail", "module_tilted"},
        FaultRow{"TiltedTheOtherWay", [](Drawn& d) { d.sigma_px = 2.9, d.sigma_right_px = -2.2; }, "fail",
                 "module_tilted"},
        FaultRow{"OutOfFocus", [](Drawn& d) { d.sigma_px = 2.3; }, "fail", "module_out_of_focus"},
        FaultRow{"ColourCast", [](Drawn& d) { d.red = 1.12, d.blue = 0.8; }, "fail", "colour_cast"},
        FaultRow{"OneCornerDark", [](Drawn& d) { d.corner_dark = 0.4; }, "fail", "uneven_shading"}),
    [](const auto& row) { return row.param.name; });

TEST(Cameras, NumbersOfAGoodCameraAreTheOnesItWasDrawnWith) {
  World w;
  FakePhone phone;
  w.lenses[{Facing::back, 0}].veil = 0.03;
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c);
  const auto r = judge(*c);
  ASSERT_TRUE(r);
  EXPECT_NEAR(value(*r, "mtf50_centre_cpp"), 0.187390625 / 0.7, 0.03 * 0.268);
  EXPECT_NEAR(value(*r, "corner_balance"), 1, 0.03);
  EXPECT_NEAR(value(*r, "glare_pct"), 3, 0.8);
  EXPECT_NEAR(value(*r, "white_delta_e00"), 0, 0.5);
  EXPECT_EQ(value(*r, "frames"), 3);
  EXPECT_EQ(value(*r, "listed", ""), 2);
  ASSERT_EQ(r->plots.size(), 2U);
  EXPECT_EQ(r->plots[0].series.size(), 3U);
  EXPECT_NEAR(r->plots[0].series[1].values[16], std::exp(-2 * M_PI * M_PI * 0.49 / 16), 0.03);  // at 0.25
  for (const Verdict& v : r->verdicts) EXPECT_TRUE(std::isfinite(v.measure.u) && v.measure.u >= 0);
}

TEST(Cameras, AbsentCameraFailsAndNamesItsConnector) {
  World w;
  FakePhone phone;
  w.lenses.erase({Facing::back, 0});
  phone.total = 1;
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c);
  const auto r = judge(*c);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "fail");
  ASSERT_EQ(r->findings.size(), 1U);
  EXPECT_EQ(r->findings[0].id.view(), "camera_not_seated");
  EXPECT_EQ(value(*r, "present", "selfie"), 1);
  EXPECT_GT(value(*r, "mtf50_centre_cpp", "selfie"), 0.2);
}

TEST(Cameras, ChartThatNeverComesIntoViewIsNotTestedAndSaysWhatToDo) {
  World w;
  FakePhone phone;
  w.chart_from_try = 1000;
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c);
  EXPECT_EQ(w.points, 6);  // three tries a camera
  const auto r = judge(*c);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "not tested");
  EXPECT_NE(r->reason.find("fill the frame"), std::string::npos);
}

TEST(Cameras, ABadAimIsTakenAgainWithWhatToChangeAndIsNeverAFail) {
  struct Row {
    std::function<void(Drawn&)> how;
    Seen seen;
  };
  const std::vector<Row> rows{{[](Drawn& d) { d.scale = 0.45; }, Seen::too_far},
                              {[](Drawn& d) { d.scale = 0.7, d.yaw_deg = 22; }, Seen::right_side_away},
                              {[](Drawn& d) { d.shake_px = 8; }, Seen::moved}};
  for (const auto& row : rows) {
    World w;
    FakePhone phone;
    w.badly = row.how, w.good_from_try = 3;
    auto c = capture_of(w, phone);
    ASSERT_TRUE(c);
    EXPECT_EQ(name(judge(*c)->outcome).view(), "pass");
    EXPECT_EQ(w.hints, (std::vector<Seen>{Seen::measured, row.seen, row.seen, Seen::measured}));
    World bad;
    bad.badly = row.how, bad.good_from_try = 1000;
    c = capture_of(bad, phone);
    ASSERT_TRUE(c);
    const auto r = judge(*c);
    EXPECT_EQ(name(r->outcome).view(), "not tested");
    EXPECT_EQ(r->reason, to_change(row.seen).str());
    EXPECT_TRUE(r->findings.empty());
    EXPECT_EQ(bad.points, 6);
  }
}

TEST(Cameras, AFaultOfOneCameraIsNotHiddenByABadAimAtAnother) {
  World w;
  FakePhone phone;
  w.lenses[{Facing::back, 0}].veil = 0.3;
  w.lenses[{Facing::front, 0}].chart = false;
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c);
  const auto r = judge(*c);
  EXPECT_EQ(name(r->outcome).view(), "fail");
  ASSERT_EQ(r->findings.size(), 1U);
  EXPECT_EQ(r->findings[0].id.view(), "lens_film_left_on");
}

// A browser numbers the cameras that it finds: with the first of two back cameras gone, the second answers as
// number 0. Taking its pictures for the first one's would pass a camera that is not there.
TEST(Cameras, OneOfTwoMissingIsNamedEitherOrAndItsSidesPicturesBelongToNobody) {
  World w;
  FakePhone phone;
  auto config = config_of();
  config.cameras.push_back({ShopText("ultra"), Facing::back, 1, 1280, 960});
  auto lim = limits();
  lim.push_back({"cameras.present", ShopText("ultra"), 1, {}, LimitOrigin::common_practice});
  const auto c = capture_of(w, phone, true, config);
  ASSERT_TRUE(c);
  EXPECT_EQ(w.points, 1) << "only the front camera is aimed";
  const auto m = Cameras::measure(*c, config);
  ASSERT_TRUE(m);
  const auto r = finish_result(Cameras::needs(), m, lim,
                               [&](std::span<const Verdict> v) { return Cameras::diagnose(v, *c, config); });
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "fail");
  ASSERT_EQ(r->findings.size(), 2U);
  std::set<std::string> parts;
  for (const auto& f : r->findings) {
    EXPECT_EQ(f.id.view(), "camera_not_seated");
    EXPECT_NE(f.says.view().find("Either this camera or another one"), std::string_view::npos);
    parts.insert(f.part.str());
  }
  EXPECT_EQ(parts, (std::set<std::string>{"ultra", "wide"}));
  EXPECT_EQ(value(*r, "present"), 0.5);
  EXPECT_TRUE(std::isnan(value(*r, "mtf50_centre_cpp")));
  EXPECT_GT(value(*r, "mtf50_centre_cpp", "selfie"), 0.2);
}

TEST(Cameras, ChartAtTheSecondTryIsMeasured) {
  World w;
  FakePhone phone;
  w.chart_from_try = 2;
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c);
  EXPECT_EQ(name(judge(*c)->outcome).view(), "pass");
}

TEST(Cameras, AnotherPictureSizeIsNotTested) {
  World w;
  FakePhone phone;
  w.lenses[{Facing::back, 0}].width = 640;
  w.lenses[{Facing::back, 0}].height = 480;
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c);
  EXPECT_NE(judge(*c)->reason.find("picture size"), std::string::npos);
}

TEST(Cameras, WithoutBrowserOrPermissionItIsUnsupportedNeverFailed) {
  FakePhone phone;
  const auto code = [&](const std::function<void(World&)>& how, bool page = true) {
    World w;
    how(w);
    const auto c = capture_of(w, phone, page);
    return c ? ErrorCode::internal : c.error().code;
  };
  EXPECT_EQ(code([](World&) {}, false), ErrorCode::unsupported);
  EXPECT_EQ(code([](World& w) { w.open_fails = ErrorCode::timed_out; }), ErrorCode::unsupported);
  EXPECT_EQ(code([](World& w) { w.nobody = true; }), ErrorCode::unsupported);
  EXPECT_EQ(code([](World& w) { w.frames_fail = ErrorCode::refused; }), ErrorCode::unsupported);
  EXPECT_EQ(code([](World& w) { w.frames_fail = ErrorCode::timed_out; }), ErrorCode::unsupported);
  EXPECT_EQ(code([](World& w) { w.open_fails = ErrorCode::link_lost; }), ErrorCode::link_lost);
  EXPECT_EQ(code([](World& w) { w.frames_fail = ErrorCode::link_lost; }), ErrorCode::link_lost);
}

TEST(Cameras, ReplayFromJsonTextGivesTheSameBitsAndTornCapturesAreRefused) {
  World w;
  FakePhone phone;
  const auto c = capture_of(w, phone);
  ASSERT_TRUE(c);
  const nlohmann::json j(*c);
  const auto a = Cameras::measure(*c, config_of());
  const auto b = Cameras::measure(nlohmann::json::parse(j.dump()).get<Cameras::Capture>(), config_of());
  ASSERT_TRUE(a && b);
  ASSERT_EQ(a->measures.size(), b->measures.size());
  for (std::size_t i = 0; i < a->measures.size(); ++i) {
    EXPECT_EQ(a->measures[i].value, b->measures[i].value);
    EXPECT_EQ(a->measures[i].u, b->measures[i].u);
  }
  const std::vector<std::function<void(nlohmann::json&)>> tears{
      [](auto& t) { t["cameras"].erase(0); },
      [](auto& t) { t["cameras"][0]["frames"] = nlohmann::json::array(); },
      [](auto& t) { t["cameras"][0]["frames"][1]["sfr"][2].erase(0); },
      [](auto& t) { t["cameras"][0]["frames"][1]["mtf50_cpp"][2] = 0; },
      [](auto& t) { t["cameras"][0]["frames"][1]["level"] = 0; }};
  for (std::size_t i = 0; i < tears.size(); ++i) {
    auto t = j;
    tears[i](t);
    const auto m = Cameras::measure(t.get<Cameras::Capture>(), config_of());
    ASSERT_FALSE(m) << i;
    EXPECT_EQ(m.error().code, ErrorCode::bad_format) << i;
  }
  const auto text = j.dump();
  EXPECT_LT(text.size(), 60000U) << "numbers only: a picture would be megabytes";
}

TEST(Cameras, OneFrameIsMeasuredFastEnoughToRepeat) {
  const Frame f = draw({});
  const auto start = std::chrono::steady_clock::now();
  (void)Cameras::analyse(f, {});
  const auto ms = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
  RecordProperty("frame_ms", std::to_string(ms));
  EXPECT_LT(ms, 1000) << "generous: a shared machine, a debug or sanitizer build";
}

TEST(Cameras, ProfileMistakesAreNamed) {
  EXPECT_FALSE(Cameras::configure({}));
  Section s;
  s.name = ShopText("wide");
  s.values = {{"facing", "back"}, {"index", 0}, {"width", 1280}, {"height", 960}};
  Sections all;
  all.all.emplace_back("camera", s);
  ASSERT_TRUE(Cameras::configure(all));
  all.all[0].second.values["facing"] = "up";
  EXPECT_EQ(Cameras::configure(all).error().where, "camera.facing");
  all.all[0].second.values["facing"] = "back";
  all.all.emplace_back("camera", s);
  EXPECT_EQ(Cameras::configure(all).error().where, "camera.index");
  all.all.pop_back();
  Section chart;
  chart.values = {{"squares_x", std::vector<double>{0.1, 0.2}}};
  all.all.emplace_back("chart", chart);
  EXPECT_EQ(Cameras::configure(all).error().where, "chart");
}

}  // namespace
}  // namespace hb::checks
