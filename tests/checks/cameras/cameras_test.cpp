#include "checks/cameras/cameras.hpp"

#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <functional>

#include "drawn_chart.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using testing::draw;
using testing::Drawn;
using Seen = Cameras::Seen;

struct AimRow {
  std::string name;
  std::function<void(Drawn&)> how;
  Seen seen;
};
void PrintTo(const AimRow& r, std::ostream* o) { *o << r.name; }
class Aim : public ::testing::TestWithParam<AimRow> {};
TEST_P(Aim, IsMeasuredOrSaysWhatToChange) {
  Drawn d;
  GetParam().how(d);
  const auto n = Cameras::analyse(draw(d), {});
  ASSERT_EQ(static_cast<int>(n.seen), static_cast<int>(GetParam().seen));
  if (n.seen != Seen::measured) return;
  // Analytic MTF50 of a Gaussian edge: 0.187390625 / sigma. 3 %: a shaded ground is part of the edge's
  // region.
  for (std::size_t k = 0; k < 5; ++k)
    EXPECT_NEAR(n.mtf50_cpp[k] / (0.187390625 / d.sigma_px), 1, 0.03) << "square " << k;
  EXPECT_NEAR(n.scale, d.scale, 0.01);
  EXPECT_NEAR(n.level, d.exposure, 0.05 * d.exposure);
}
INSTANTIATE_TEST_SUITE_P(
    Chart, Aim,
    ::testing::Values(
        AimRow{"FillsTheFrame", [](Drawn&) {}, Seen::measured},
        AimRow{"Soft", [](Drawn& d) { d.sigma_px = 2; }, Seen::measured},
        AimRow{"TooFarAway", [](Drawn& d) { d.scale = 0.7; }, Seen::measured},
        AimRow{"AShadeTooNear", [](Drawn& d) { d.scale = 1.15; }, Seen::measured},
        AimRow{"OffCentreAndRolled",
               [](Drawn& d) { d.scale = 0.85, d.roll_deg = 2.5, d.shift_x = 50, d.shift_y = -30; },
               Seen::measured},
        AimRow{"UpsideDown", [](Drawn& d) { d.upside_down = true; }, Seen::measured},
        AimRow{"DimButEnough", [](Drawn& d) { d.exposure = 0.2, d.noise_sd = 0.002; }, Seen::measured},
        AimRow{"MuchTooFar", [](Drawn& d) { d.scale = 0.4; }, Seen::no_chart},
        AimRow{"HalfOut", [](Drawn& d) { d.shift_x = 500; }, Seen::no_chart},
        AimRow{"AWall", [](Drawn& d) { d.chart = false; }, Seen::no_chart},
        AimRow{"ADimWall", [](Drawn& d) { d.chart = false, d.exposure = 0.2; }, Seen::no_chart},
        AimRow{"NearlyDark", [](Drawn& d) { d.exposure = 0.06, d.noise_sd = 0.001; }, Seen::too_dark},
        AimRow{"BlackPicture", [](Drawn& d) { d.exposure = 0, d.chart = false; }, Seen::too_dark},
        AimRow{"Overexposed", [](Drawn& d) { d.exposure = 1.05; }, Seen::too_bright}),
    [](const auto& row) { return row.param.name; });

TEST(Analyse, IsTotalOnAnyFrame) {
  Frame empty;
  EXPECT_EQ(static_cast<int>(Cameras::analyse(empty, {}).seen), static_cast<int>(Seen::no_chart));
  Frame torn;
  torn.width = 1280, torn.height = 960, torn.rgb.assign(1000, 7);
  EXPECT_EQ(static_cast<int>(Cameras::analyse(torn, {}).seen), static_cast<int>(Seen::no_chart));
  Frame noise;
  noise.width = 320, noise.height = 240;
  std::uint32_t s = 1;
  for (int i = 0; i < 3 * 320 * 240; ++i)
    noise.rgb.push_back(static_cast<std::uint8_t>((s = s * 1664525 + 1013904223) >> 24));
  EXPECT_EQ(static_cast<int>(Cameras::analyse(noise, {}).seen), static_cast<int>(Seen::no_chart));
}

Cameras::Config config_of() {
  Cameras::Config c;
  c.cameras = {{ShopText("wide"), Facing::back, 0, 1280, 960},
               {ShopText("selfie"), Facing::front, 0, 1280, 960}};
  return c;
}

std::vector<Limit> limits() {
  const auto at = [](const char* key, const char* part, std::optional<double> lower,
                     std::optional<double> upper) {
    return Limit{std::string("cameras.") + key, *ShopText::screened(part, "part"), lower, upper,
                 LimitOrigin::common_practice};
  };
  std::vector<Limit> out{at("listed", "", 2, {})};
  for (const char* part : {"wide", "selfie"})
    for (const auto& l : {at("present", part, 1, {}), at("mtf50_centre_cpp", part, 0.17, {}),
                          at("mtf50_worst_corner_cpp", part, 0.14, {}), at("corner_balance", part, 0.75, {}),
                          at("glare_pct", part, {}, 8), at("white_delta_e00", part, {}, 6),
                          at("shading_asymmetry_pct", part, {}, 20)})
      out.push_back(l);
  return out;
}

Frame copy_of(const Frame& f) {
  Frame c;
  c.width = f.width, c.height = f.height, c.rgb = f.rgb;
  return c;
}

/// Frame `i` of a lens; those of the good lens are drawn once.
Frame frame(Drawn d, int i) {
  static const std::vector<Frame> good = [] {
    std::vector<Frame> g;
    for (std::uint32_t s = 1; s <= 3; ++s) g.push_back(draw({.seed = s}));
    return g;
  }();
  if (d == Drawn{} && i < 3) return copy_of(good[static_cast<std::size_t>(i)]);
  d.seed = static_cast<std::uint32_t>(i + 1);
  return draw(d);
}

struct World final : Hands, net::Clock, Progress, PagePort {
  std::map<std::pair<Facing, int>, Drawn> lenses{{{Facing::back, 0}, {}}, {{Facing::front, 0}, {}}};
  ErrorCode open_fails = ErrorCode::internal;   // internal: opens
  ErrorCode frames_fail = ErrorCode::internal;  // internal: frames come
  bool allowed = false, nobody = false;
  int points = 0, chart_from_try = 1;
  net::BenchTime now_{0};

  net::BenchTime now() const override { return now_; }
  net::awaitable<Result<void>> wait(std::chrono::milliseconds d) override {
    now_ += d;
    co_return Result<void>{};
  }
  Term kind() const override { return "test"; }
  net::awaitable<Result<void>> begin(Ask ask) override {
    if (ask.deed == Deed::allow_on_page) allowed = !nobody;
    if (ask.deed == Deed::point_at_chart) ++points;
    co_return Result<void>{};
  }
  net::awaitable<Result<bool>> done() override { co_return !nobody; }
  net::awaitable<Result<void>> enough() override { co_return Result<void>{}; }
  void step(double, Term) override {}
  net::awaitable<Result<void>> open() override {
    if (open_fails != ErrorCode::internal) co_return Error{open_fails, "no", "", ""};
    co_return Result<void>{};
  }
  net::awaitable<Result<int>> cameras(Facing facing) override {
    int n = 0;
    for (const auto& [k, v] : lenses) n += k.first == facing;
    co_return n;
  }
  net::awaitable<Result<void>> frames(Facing facing, int index, int width, int height, int count,
                                      FrameSink sink) override {
    if (frames_fail != ErrorCode::internal) co_return Error{frames_fail, "no", "", ""};
    if (!allowed) co_return Error{ErrorCode::refused, "nobody allowed it", "", ""};
    const auto it = lenses.find({facing, index});
    if (it == lenses.end()) co_return Error{ErrorCode::not_found, "no such camera", "", ""};
    Drawn d = it->second;
    if (d.width == 1280) d.width = width, d.height = height;
    if (points < chart_from_try) d.chart = false;
    for (int i = 0; i < count; ++i) sink(i, frame(d, i));
    co_return Result<void>{};
  }
  net::awaitable<Result<void>> close() override { co_return Result<void>{}; }
};

struct FakePhone final : phone::Phone {
  int total = 2;
  net::awaitable<Result<phone::CameraCount>> cameras() override {
    phone::CameraCount c;
    c.total = total;
    co_return c;
  }
  static Error none() { return {ErrorCode::unsupported, "not in this test", "", ""}; }
  net::awaitable<Result<double>> uptime_s() override { co_return none(); }
  net::awaitable<Result<phone::InputDevices>> input_devices() override { co_return none(); }
  net::awaitable<Result<std::unique_ptr<phone::TouchStream>>> touch(int) override { co_return none(); }
  net::awaitable<Result<void>> wake() override { co_return none(); }
  net::awaitable<Result<phone::Identity>> identity(Bytes) override { co_return none(); }
  net::awaitable<Result<bool>> is_model(std::string, std::string) override { co_return none(); }
  net::awaitable<Result<int>> sdk() override { co_return none(); }
  net::awaitable<Result<phone::BatteryReading>> battery() override { co_return none(); }
  net::awaitable<Result<phone::CellReading>> cell(std::string) override { co_return none(); }
  net::awaitable<Result<void>> start_load(int, int) override { co_return none(); }
  net::awaitable<Result<void>> stop_load() override { co_return none(); }
  net::awaitable<Result<phone::SensorReading>> sensor(int) override { co_return none(); }
  net::awaitable<Result<phone::DeviceState>> device_state() override { co_return none(); }
  net::awaitable<Result<phone::ThermalReading>> thermal() override { co_return none(); }
  net::awaitable<Result<phone::DisplaySize>> display_size() override { co_return none(); }
  net::awaitable<Result<void>> open_page(std::uint16_t, std::string) override { co_return none(); }
  link::Link& link() override { throw std::logic_error("no link in this test"); }
};

Result<Cameras::Capture> capture_of(World& w, FakePhone& phone, bool page = true) {
  net::io_context io;
  std::optional<Result<Cameras::Capture>> out;
  const auto config = config_of();
  Context context{phone, page ? &w : nullptr, w, w, w};
  net::co_spawn(
      io, [&]() -> net::awaitable<void> { out.emplace(co_await Cameras{}.acquire(context, config)); },
      net::detached);
  io.run();
  return std::move(*out);
}

Result<CheckResult> judge(const Cameras::Capture& c) {
  const auto config = config_of();
  const auto lim = limits();
  return finish_result(Cameras::needs(), Cameras::measure(c, config), lim,
                       [&](std::span<const Verdict> v) { return Cameras::diagnose(v, c, config); });
}

double value(const CheckResult& r, std::string_view key, std::string_view part = "wide") {
  for (const Verdict& v : r.verdicts)
    if (v.measure.key.view() == std::string("cameras.") + std::string(key) && v.measure.part.str() == part)
      return v.measure.value;
  return NAN;
}

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
  chart.values = {{"squares_x", {0.1, 0.2}}};
  all.all.emplace_back("chart", chart);
  EXPECT_EQ(Cameras::configure(all).error().where, "chart");
}

}  // namespace
}  // namespace hb::checks
