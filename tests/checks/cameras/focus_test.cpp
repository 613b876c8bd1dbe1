// Whether a lens follows its focus motor.
#include "checks/cameras/focus.hpp"

#include "camera_world.hpp"

namespace hb::checks {
namespace {
using namespace testing;
using camera::FocusFrame;

/// Two frames at each setting: blur^2 = rest^2 + (k (dpt - there))^2.
std::vector<FocusFrame> parabola(double rest, double k, double there, double u = 0.02) {
  std::vector<FocusFrame> out;
  for (const double dpt : {0.1, 2.5, 5.0, 7.5, 10.0})
    for (int i = 0; i < 2; ++i) {
      const double blur = std::hypot(rest, k * (dpt - there));
      out.push_back({1 / dpt, Seen::measured, blur, u * blur, 0.8});
    }
  return out;
}

TEST(FocusFit, FindsTheParabolaThatTheBlursWereMadeWith) {
  for (const double k : {0.3, 0.7, 1.2})
    for (const double there : {1.0, 3.1, 9.0}) {
      const auto fit = camera::fit_focus(parabola(0.7, k, there));
      ASSERT_TRUE(fit);
      EXPECT_NEAR(fit->px_per_dpt, k, 1e-9);
      ASSERT_TRUE(fit->best_dpt);
      EXPECT_NEAR(*fit->best_dpt, there, 1e-8);
      EXPECT_EQ(fit->frames, 10);
    }
}

// R 4.2.2: d <- c(.1,.1,2.5,2.5,5,5,7.5,7.5,10,10); b <- c(2.1,2.4,.8,.72,1.6,1.4,3.2,3.4,4.9,4.5)
// u <- 2*b*sqrt((.02*b)^2+(.03*b)^2); x <- d-mean(d); f <- lm(b^2 ~ x+I(x^2), weights=1/u^2); p <- coef(f)
// V <- vcov(f); k <- sqrt(p[3]); uk <- sqrt(V[3,3])/(2*k); best <- mean(d)-p[2]/(2*p[3])
// g <- c(-1/(2*p[3]), p[2]/(2*p[3]^2)); sqrt(g %*% V[2:3,2:3] %*% g). Its residual scale is 1.99: above 1, so
// that R's covariance and ours are one.
TEST(FocusFit, AgreesWithWeightedLeastSquaresInR) {
  const double dpt[] = {.1, .1, 2.5, 2.5, 5, 5, 7.5, 7.5, 10, 10};
  const double blur[] = {2.1, 2.4, .8, .72, 1.6, 1.4, 3.2, 3.4, 4.9, 4.5};
  std::vector<FocusFrame> frames;
  for (int i = 0; i < 10; ++i) frames.push_back({1 / dpt[i], Seen::measured, blur[i], 0.02 * blur[i], 0.8});
  const auto fit = camera::fit_focus(frames);
  ASSERT_TRUE(fit && fit->best_dpt);
  EXPECT_NEAR(fit->px_per_dpt, 0.7001048051299, 1e-9);
  EXPECT_NEAR(fit->u_px_per_dpt, 0.0231808454396, 1e-9);
  EXPECT_NEAR(*fit->best_dpt, 3.0947614105854, 1e-9);
  EXPECT_NEAR(fit->u_best_dpt, 0.0875916493054, 1e-9);
}

TEST(FocusFit, ALensThatStaysHasNoCurveHoweverSoftItIs) {
  for (const double rest : {0.7, 2.0, 5.0}) {
    auto frames = parabola(rest, 0, 3);
    for (std::size_t i = 0; i < frames.size(); ++i)
      frames[i].blur_px *= 1 + 0.01 * std::sin(7.0 * static_cast<double>(i));
    const auto fit = camera::fit_focus(frames);
    ASSERT_TRUE(fit);
    EXPECT_LT(fit->px_per_dpt, 0.15);
    EXPECT_GT(fit->u_px_per_dpt, 0);
    EXPECT_LT(fit->px_per_dpt + 2 * fit->u_px_per_dpt, 0.48) << "no pass within the profile's limit";
    EXPECT_FALSE(fit->best_dpt);
  }
}

TEST(FocusFit, TooFewSettingsGiveNothing) {
  auto frames = parabola(0.7, 0.7, 3);
  for (std::size_t i = 0; i < 6; ++i) frames[i].seen = Seen::edges_unreadable;
  EXPECT_FALSE(camera::fit_focus(frames));
  EXPECT_FALSE(camera::fit_focus({}));
}

TEST(FocusFrames, BlurIsReadAsItWasDrawnUpToATwelfthOfATile) {
  for (const double sigma : {0.7, 1.5, 3.0, 5.0, 7.5}) {
    Drawn d;
    d.sigma_px = sigma, d.scale = 0.62, d.roll_deg = 5, d.yaw_deg = -6, d.pitch_deg = 4;
    Frame f = draw(d);
    f.focus_m = 0.25;
    const auto n = camera::read_focus(f, {}, 68);
    ASSERT_EQ(n.seen, Seen::measured) << sigma;
    EXPECT_NEAR(n.blur_px, sigma, (sigma > 4 ? 0.1 : 0.04) * sigma);
    EXPECT_NEAR(n.blur_px, sigma, 4 * n.u_blur_px);
    EXPECT_GT(n.u_blur_px, 0);
    EXPECT_EQ(n.focus_m, 0.25);
  }
  Drawn none;
  none.chart = false;
  Frame f = draw(none);
  f.focus_m = 0.25;
  EXPECT_EQ(camera::read_focus(f, {}, 68).seen, Seen::no_chart);
}

/// A camera whose blur is drawn from where its lens is; share 0: the farthest setting.
struct Motor {
  double k = 0.68, chart_dpt = 3, goes = 1, rests_dpt = 3;
  Result<Frame> operator()(CameraAsk ask, double share, std::uint64_t i) const {
    const double told = 0.1 + 9.9 * share, at = rests_dpt + goes * (told - rests_dpt);
    Drawn d;
    d.width = ask.width, d.height = ask.height;
    d.scale = 0.8, d.seed = static_cast<std::uint32_t>(i + 1);
    d.sigma_px = std::hypot(0.7, k * (at - chart_dpt));
    Frame f = draw(d);
    f.focus_m = 1 / told;
    return f;
  }
};
Cameras::Config focusing() {
  auto c = config_of();
  c.cameras[0].focus = true;
  return c;
}
std::vector<Limit> with_focus() {
  auto l = limits();
  l.push_back({"cameras.focus_px_per_dpt", ShopText("wide"), 0.48, {}, LimitOrigin::common_practice});
  return l;
}
Result<CheckResult> run(World& w) {
  FakePhone phone;
  const auto config = focusing();
  const auto c = capture_of(w, phone, true, config);
  if (!c) return c.error();
  const auto replayed = nlohmann::json::parse(nlohmann::json(*c).dump()).get<Cameras::Capture>();
  return judge(replayed, config, with_focus());
}

TEST(CameraFocus, AMotorThatMovesPassesWithItsOwnFigures) {
  World w;
  w.focused = Motor{};
  const auto r = run(w);
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(name(r->outcome).view(), "pass") << r->reason;
  EXPECT_NEAR(value(*r, "focus_px_per_dpt"), 0.68, 0.03);
  EXPECT_NEAR(value(*r, "focus_best_dpt"), 3, 0.2);
  EXPECT_TRUE(std::isnan(value(*r, "focus_error_dpt"))) << "the chart's height is not known";
  EXPECT_TRUE(std::isnan(value(*r, "focus_px_per_dpt", "selfie")));
  EXPECT_EQ(w.points, 2) << "nobody has to aim again";
}

TEST(CameraFocus, OneThatStaysOrGoesHalfTheWayIsNamedAlsoWhereTheChartIsSharp) {
  for (const double goes : {0.0, 0.5})
    for (const double rests : {0.3, 3.0, 6.0}) {
      World w;
      w.focused = Motor{.goes = goes, .rests_dpt = rests};
      const auto r = run(w);
      ASSERT_TRUE(r) << r.error().message();
      EXPECT_EQ(name(r->outcome).view(), "fail") << goes << " " << rests;
      ASSERT_EQ(r->findings.size(), 1U) << goes << " " << rests;
      EXPECT_EQ(r->findings[0].id.view(), "focus_stuck");
    }
}

TEST(CameraFocus, SoftBecauseItIsStuckHasOneFindingSoftThoughItMovesAnother) {
  World stuck;
  stuck.lenses[{Facing::back, 0}].sigma_px = 2.3;
  stuck.focused = Motor{.goes = 0, .rests_dpt = 6.2};
  auto r = run(stuck);
  ASSERT_TRUE(r);
  ASSERT_EQ(r->findings.size(), 1U);
  EXPECT_EQ(r->findings[0].id.view(), "focus_stuck");
  World soft;
  soft.lenses[{Facing::back, 0}].sigma_px = 2.3;
  soft.focused = Motor{};
  r = run(soft);
  ASSERT_TRUE(r);
  ASSERT_EQ(r->findings.size(), 1U);
  EXPECT_EQ(r->findings[0].id.view(), "module_out_of_focus");
}

TEST(CameraFocus, NotOfferedIsNotTestedAndSaysSoAndHidesNoFail) {
  World w;
  auto r = run(w);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "not tested");
  EXPECT_NE(r->reason.find("does not let the bench set a camera's focus"), std::string::npos);
  EXPECT_TRUE(r->findings.empty());
  World veiled;
  veiled.lenses[{Facing::back, 0}].veil = 0.3;
  r = run(veiled);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "fail");
}

TEST(CameraFocus, AChartLostMeanwhileIsAimedAtOnceMore) {
  World w;
  int lost = 6;
  w.focused = [&](CameraAsk ask, double share, std::uint64_t i) -> Result<Frame> {
    auto f = Motor{}(ask, share, i);
    if (lost-- > 0) std::fill(f->rgb.begin(), f->rgb.end(), std::uint8_t{90});
    return f;
  };
  auto r = run(w);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "pass");
  EXPECT_EQ(w.points, 3);
  lost = 1000;
  r = run(w);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "not tested");
  EXPECT_NE(r->reason.find("the chart was lost"), std::string::npos);
}

TEST(CameraFocus, APulledCableEndsTheCheck) {
  World w;
  w.focused = [](CameraAsk, double, std::uint64_t) -> Result<Frame> {
    return Error{ErrorCode::link_lost, "gone", "", ""};
  };
  const auto r = run(w);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::link_lost);
}

TEST(CameraFocus, BestSettingIsHeldAgainstTheChartsDistance) {
  // 0.255 m at 0.8 of 960 pixels: 949 pixels of focal length (68 degrees over 1280) put it at 0.315 m.
  camera::Chart chart;
  EXPECT_EQ(camera::chart_dpt(chart, 0.8, 1280, 960, 68), 0);
  chart.height_mm = 255;
  EXPECT_NEAR(camera::chart_dpt(chart, 0.8, 1280, 960, 68), 1 / 0.315, 0.01);
}

TEST(CameraFocus, TornFocusNumbersAreRefused) {
  World w;
  FakePhone phone;
  w.focused = Motor{};
  const auto config = focusing();
  const auto c = capture_of(w, phone, true, config);
  ASSERT_TRUE(c);
  for (const char* key : {"focus_m", "blur_px", "u_blur_px"}) {
    nlohmann::json j(*c);
    j["cameras"][0]["focus"]["frames"][3][key] = 0;
    const auto m = Cameras::measure(j.get<Cameras::Capture>(), config);
    ASSERT_FALSE(m) << key;
    EXPECT_EQ(m.error().code, ErrorCode::bad_format);
  }
}
}  // namespace
}  // namespace hb::checks
