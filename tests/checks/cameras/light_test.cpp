// Whether a camera's light shines through a finger.
#include "checks/cameras/light.hpp"

#include "camera_world.hpp"
#include "checks/kernel/srgb.hpp"

namespace hb::checks {
namespace {
using namespace testing;

Frame even(CameraAsk ask, double red, double green, double blue) {
  Frame f;
  f.width = ask.width, f.height = ask.height;
  const std::array<std::uint8_t, 3> code{kernel::srgb_code(red), kernel::srgb_code(green),
                                         kernel::srgb_code(blue)};
  f.rgb.resize(3 * static_cast<std::size_t>(ask.width) * static_cast<std::size_t>(ask.height));
  for (std::size_t i = 0; i < f.rgb.size(); ++i) f.rgb[i] = code[i % 3];
  return f;
}
/// Skin: next to no green.
Frame skin(CameraAsk ask, double red) { return even(ask, red, 0.07 * red, 0.03 * red); }

Cameras::Config lamps() {
  auto c = config_of();
  c.cameras[0].light = true;
  return c;
}
Result<CheckResult> run(World& w) {
  FakePhone phone;
  const auto config = lamps();
  auto lim = limits();
  lim.push_back({"cameras.light_gain", ShopText("wide"), 0.1, {}, LimitOrigin::common_practice});
  const auto c = capture_of(w, phone, true, config);
  if (!c) return c.error();
  return judge(nlohmann::json::parse(nlohmann::json(*c).dump()).get<Cameras::Capture>(), config, lim);
}

struct Row {
  std::string name;
  /// Of a take, picture n of 14; 3 to 10 with the light on.
  std::function<Frame(CameraAsk, bool lit, int n)> picture;
  std::string outcome, finding;
  double gain = NAN;
  int fingers = 1;
};
void PrintTo(const Row& r, std::ostream* o) { *o << r.name; }
class CameraLight : public ::testing::TestWithParam<Row> {};
TEST_P(CameraLight, IsJudgedByWhatComesThroughTheFinger) {
  World w;
  int n = 0;
  w.lamp = [&](CameraAsk ask, bool lit, std::uint64_t) -> Result<Frame> {
    return GetParam().picture(ask, lit, n++ % 14);
  };
  const auto r = run(w);
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(name(r->outcome).view(), GetParam().outcome) << r->reason;
  EXPECT_EQ(w.fingers, GetParam().fingers);
  if (!std::isnan(GetParam().gain)) {
    EXPECT_NEAR(value(*r, "light_gain"), GetParam().gain, 0.02);
  }
  if (GetParam().finding.empty()) {
    EXPECT_TRUE(r->findings.empty());
  } else {
    ASSERT_EQ(r->findings.size(), 1U);
    EXPECT_EQ(r->findings[0].id.view(), GetParam().finding);
  }
}
INSTANTIATE_TEST_SUITE_P(
    Lights, CameraLight,
    ::testing::Values(
        Row{"Shines", [](auto ask, bool lit, int) { return skin(ask, lit ? 0.8 : 0.02); }, "pass", "", 0.78},
        Row{"Dark", [](auto ask, bool, int) { return skin(ask, 0.02); }, "fail", "camera_light_dark", 0, 2},
        Row{"StartsLateAndTheExposureMakesUpForIt",
            [](auto ask, bool lit, int n) {
              return skin(ask, !lit ? 0.2 : n < 5 ? 0.2 : n < 8 ? 0.9 : 0.22);
            },
            "pass", "", 0.7},
        // Bright room light through the finger, and an exposure that opens all the time: no light.
        Row{"DarkWhileTheExposureStillOpens",
            [](auto ask, bool, int n) { return skin(ask, 0.02 + 0.03 * n); }, "fail", "camera_light_dark",
            NAN, 2},
        Row{"DarkAndSaturatedByTheRoom", [](auto ask, bool, int) { return skin(ask, 0.98); }, "not tested",
            "", NAN, 2},
        Row{"NotCovered", [](auto ask, bool lit, int) { return even(ask, 0.4, lit ? 0.5 : 0.4, 0.4); },
            "not tested", "", NAN, 2}),
    [](const auto& row) { return row.param.name; });

TEST(CameraLight, ABrowserThatDoesNotOfferItIsNotTestedAndSaysSo) {
  World w;
  const auto r = run(w);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "not tested");
  EXPECT_NE(r->reason.find("does not let the bench switch the camera's light"), std::string::npos);
}

TEST(CameraLight, AMissedFingerAtFirstIsAskedForOnceMore) {
  World w;
  w.lamp = [&](CameraAsk ask, bool lit, std::uint64_t) -> Result<Frame> {
    return skin(ask, lit && w.fingers == 2 ? 0.7 : 0.02);
  };
  const auto r = run(w);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "pass") << r->reason;
  EXPECT_EQ(w.fingers, 2);
}

TEST(CameraLight, TornLevelsAreRefused) {
  World w;
  FakePhone phone;
  w.lamp = [](CameraAsk ask, bool lit, std::uint64_t) -> Result<Frame> {
    return skin(ask, lit ? 0.7 : 0.02);
  };
  const auto c = capture_of(w, phone, true, lamps());
  ASSERT_TRUE(c);
  for (const double bad : {-0.1, 1.5}) {
    nlohmann::json j(*c);
    j["cameras"][0]["light"]["lit"][2][0] = bad;
    const auto m = Cameras::measure(j.get<Cameras::Capture>(), lamps());
    ASSERT_FALSE(m);
    EXPECT_EQ(m.error().code, ErrorCode::bad_format);
  }
}
}  // namespace
}  // namespace hb::checks
