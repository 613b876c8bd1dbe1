// Pictures of the chart, well and badly taken: measured, or refused with what to change.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <set>

#include "checks/cameras/cameras.hpp"
#include "drawn_chart.hpp"

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
    EXPECT_NEAR(n.mtf50_cpp[k] / (0.187390625 / d.sigma_px), 1, 0.03) << "tile " << k;
  EXPECT_NEAR(n.scale, d.scale, 0.01);
  EXPECT_NEAR(n.level, d.exposure, 0.05 * d.exposure);
}
INSTANTIATE_TEST_SUITE_P(
    Chart, Aim,
    ::testing::Values(
        AimRow{"FillsTheFrame", [](Drawn&) {}, Seen::measured},
        AimRow{"Soft", [](Drawn& d) { d.sigma_px = 2; }, Seen::measured},
        AimRow{"FarButFarEnough", [](Drawn& d) { d.scale = 0.56; }, Seen::measured},
        AimRow{"AShadeTooNear", [](Drawn& d) { d.scale = 1.09; }, Seen::measured},
        AimRow{"OffCentreAndRolled",
               [](Drawn& d) { d.scale = 0.85, d.roll_deg = 2.5, d.shift_x = 50, d.shift_y = -30; },
               Seen::measured},
        AimRow{"RolledUntilASideIsUpright", [](Drawn& d) { d.scale = 0.8, d.roll_deg = 7; }, Seen::measured},
        AimRow{"TiltedAllWays",
               [](Drawn& d) { d.scale = 0.75, d.yaw_deg = 12, d.pitch_deg = -12, d.roll_deg = -12; },
               Seen::measured},
        AimRow{"DistortedALittle", [](Drawn& d) { d.scale = 0.9, d.distortion = 0.02; }, Seen::measured},
        AimRow{"UpsideDown", [](Drawn& d) { d.upside_down = true, d.scale = 0.9, d.roll_deg = 4; },
               Seen::measured},
        AimRow{"LitALittleFromOneSide", [](Drawn& d) { d.scale = 0.9, d.slope = 0.12; }, Seen::measured},
        AimRow{"OnADarkWall", [](Drawn& d) { d.scale = 0.7, d.wall = 0.03; }, Seen::measured},
        AimRow{"OnAWhiteWall", [](Drawn& d) { d.scale = 0.7, d.wall = 0.9, d.exposure = 0.6; },
               Seen::measured},
        AimRow{"DimButEnough", [](Drawn& d) { d.exposure = 0.2, d.noise_sd = 0.002; }, Seen::measured},
        AimRow{"TooFar", [](Drawn& d) { d.scale = 0.45; }, Seen::too_far},
        AimRow{"MuchTooFar", [](Drawn& d) { d.scale = 0.15; }, Seen::no_chart},
        AimRow{"TooNear", [](Drawn& d) { d.scale = 1.4; }, Seen::cut_off},
        AimRow{"ATileIsPartlyOut", [](Drawn& d) { d.shift_x = 150; }, Seen::cut_off},
        AimRow{"HalfOut", [](Drawn& d) { d.shift_x = 500; }, Seen::no_chart},
        AimRow{"RightSideAway", [](Drawn& d) { d.scale = 0.8, d.yaw_deg = 18; }, Seen::right_side_away},
        AimRow{"LeftSideAway", [](Drawn& d) { d.scale = 0.8, d.yaw_deg = -18, d.pitch_deg = 5; },
               Seen::left_side_away},
        AimRow{"LowerSideAway", [](Drawn& d) { d.scale = 0.8, d.pitch_deg = 20; }, Seen::lower_side_away},
        AimRow{"UpperSideAway", [](Drawn& d) { d.scale = 0.8, d.pitch_deg = -17, d.yaw_deg = 8; },
               Seen::upper_side_away},
        AimRow{"UpsideDownAndItsRightSideAsSeenAway",
               [](Drawn& d) { d.scale = 0.8, d.upside_down = true, d.yaw_deg = -18; }, Seen::right_side_away},
        AimRow{"Rolled", [](Drawn& d) { d.scale = 0.75, d.roll_deg = 17; }, Seen::rolled},
        AimRow{"HeldUpright", [](Drawn& d) { d.scale = 0.6, d.roll_deg = 90; }, Seen::rolled},
        AimRow{"ShakenAcross", [](Drawn& d) { d.scale = 0.9, d.shake_px = 5; }, Seen::moved},
        AimRow{"ShakenUpAndDown", [](Drawn& d) { d.scale = 0.9, d.shake_px = 5, d.shake_deg = 90; },
               Seen::moved},
        AimRow{"LitFromOneSide", [](Drawn& d) { d.scale = 0.9, d.slope = 0.4, d.exposure = 0.6; },
               Seen::uneven_light},
        AimRow{"ALampInTheGround", [](Drawn& d) { d.reflection = 0.5, d.exposure = 0.5; }, Seen::reflection},
        AimRow{
            "ALampInATile",
            [](Drawn&
                   d) { d.reflection = 0.3, d.reflection_x = 0.85, d.reflection_y = 0.17, d.exposure = 0.5; },
            Seen::reflection},
        AimRow{
            "ALampInTheTrap",
            [](Drawn&
                   d) { d.reflection = 0.25, d.reflection_x = 0.5, d.reflection_y = 0.17, d.exposure = 0.5; },
            Seen::reflection},
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

TEST(Analyse, WhatDistanceDoesToAPrintsOwnBlurIsTakenOff) {
  Cameras::Chart soft;
  soft.print_blur = 0.0005;  // 0.1 mm on a chart 200 mm high: half a pixel when it fills the frame
  for (const double scale : {0.6, 0.8, 1.05}) {
    Drawn d;
    d.scale = scale, d.print_blur = soft.print_blur;
    const Frame f = draw(d);
    const auto plain = Cameras::analyse(f, {}), own = Cameras::analyse(f, soft);
    ASSERT_EQ(static_cast<int>(own.seen), static_cast<int>(Seen::measured));
    const double both = std::hypot(0.7, 0.0005 * 960 * scale);
    EXPECT_NEAR(plain.mtf50_cpp[0] * both / 0.187390625, 1, 0.02) << scale;
    EXPECT_NEAR(own.mtf50_cpp[0] * 0.7 / 0.187390625, 1, 0.02) << scale;
    EXPECT_GT(own.u_mtf50_cpp[0], plain.u_mtf50_cpp[0]);
  }
}

TEST(MarkMoved, FramesThatWanderOrDifferInSharpnessWereNotHeldStill) {
  const auto take = [](double step_px, double gap_ms, double last_mtf) {
    std::vector<Cameras::FrameNumbers> frames(3);
    for (int i = 0; i < 3; ++i) {
      auto& f = frames[static_cast<std::size_t>(i)];
      f.seen = Seen::measured;
      f.x_px = 640 + i * step_px, f.t_ms = i * gap_ms;
      f.mtf50_cpp.fill(i == 2 ? last_mtf : 0.25);
    }
    Cameras::mark_moved(frames);
    return frames[0].seen;
  };
  EXPECT_EQ(take(0.2, 33, 0.25), Seen::measured);
  EXPECT_EQ(take(3, 200, 0.25), Seen::measured);  // slowly: half a pixel an exposure
  EXPECT_EQ(take(3, 33, 0.25), Seen::moved);
  EXPECT_EQ(take(3, 0, 0.25), Seen::moved);  // no times: taken for frames one after the other
  EXPECT_EQ(take(0, 33, 0.20), Seen::moved);
}

TEST(ChartSeen, EveryReasonSaysWhatToChangeInWordsOfItsOwn) {
  std::set<std::string> all;
  for (int i = 1; i < kChartSeen; ++i) {
    const std::string words = to_change(static_cast<ChartSeen>(i)).str();
    EXPECT_TRUE(all.insert(words).second) << words;
    if (i != static_cast<int>(ChartSeen::wrong_size)) {
      EXPECT_NE(words.find(": "), std::string::npos) << words;
    }
  }
}
}  // namespace
}  // namespace hb::checks
