// Hundreds of hand-held pictures: within the stated range the chart is found and its sharpness is that of a
// chart square to the camera; outside it is refused.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "checks/cameras/cameras.hpp"
#include "drawn_chart.hpp"

namespace hb::checks {
namespace {
using testing::draw;
using testing::Drawn;
using testing::room_px;
using Seen = Cameras::Seen;

double between(std::mt19937& random, double a, double b) {
  return std::uniform_real_distribution<double>(a, b)(random);
}
bool coin(std::mt19937& random) { return (random() >> 5 & 1) != 0; }

/// Scale 0.55 to 1.10, 12 degrees about each axis, anywhere with all tiles in the frame; small distortion,
/// light up to 10 % unlike from side to side, blur 0.6 to 1.6 px.
Drawn within(std::mt19937& random) {
  Drawn d;
  d.upside_down = coin(random);
  do {
    d.yaw_deg = between(random, -12, 12), d.pitch_deg = between(random, -12, 12);
    d.roll_deg = between(random, -12, 12);
    d.scale = between(random, 0.55, 1.10);
    d.shift_x = between(random, -160, 160), d.shift_y = between(random, -120, 120);
    d.distortion = between(random, -0.02, 0.02);
  } while (room_px(d) < 16);
  d.sigma_px = between(random, 0.6, 1.6), d.sigma_right_px = 0;
  d.noise_sd = between(random, 0.002, 0.006);
  d.slope = between(random, -0.1, 0.1), d.shading = between(random, 0.05, 0.2);
  d.exposure = between(random, 0.35, 0.8), d.wall = between(random, 0.05, 0.7);
  d.seed = static_cast<std::uint32_t>(random());
  return d;
}

class Poses : public ::testing::TestWithParam<int> {};

TEST_P(Poses, WithinTheRangeAreMeasuredAsIfSquareToTheChart) {
  std::mt19937 random(static_cast<unsigned>(1000 + GetParam()));
  constexpr int n = 50;
  int found = 0;
  double worst = 0, sum2 = 0, tilt = 0;
  for (int i = 0; i < n; ++i) {
    const Drawn d = within(random);
    const auto r = Cameras::analyse(draw(d), {});
    found += r.seen == Seen::measured;
    if (r.seen != Seen::measured) {
      std::printf("not measured: %d scale %.2f yaw %.1f pitch %.1f roll %.1f room %.0f px\n",
                  static_cast<int>(r.seen), d.scale, d.yaw_deg, d.pitch_deg, d.roll_deg, room_px(d));
      continue;
    }
    for (const double m : r.mtf50_cpp) {
      const double off = m / (0.187390625 / d.sigma_px) - 1;  // analytic, of a Gaussian edge
      worst = std::max(worst, std::abs(off)), sum2 += off * off;
    }
    const double turn = d.upside_down ? -1 : 1;
    tilt = std::max({tilt, std::abs(r.yaw_deg - turn * d.yaw_deg), std::abs(r.pitch_deg - turn * d.pitch_deg),
                     std::abs(r.roll_deg - d.roll_deg)});
    EXPECT_NEAR(r.scale / d.scale, 1, 0.03);
  }
  std::printf("found %d of %d; MTF50 off by at most %.2f %%, rms %.2f %%; angles by at most %.2f deg\n",
              found, n, 100 * worst, 100 * std::sqrt(sum2 / (5 * std::max(found, 1))), tilt);
  EXPECT_GE(found, n) << "99 % is the goal; all is what it does";
  EXPECT_LT(worst, 0.04);
  EXPECT_LT(std::sqrt(sum2 / (5 * std::max(found, 1))), 0.01);
  EXPECT_LT(tilt, 1.5);
}
INSTANTIATE_TEST_SUITE_P(Held, Poses, ::testing::Range(0, 8));

TEST(PosesOutside, AreRefusedWithTheReasonThatFits) {
  std::mt19937 random(5);
  for (int i = 0; i < 60; ++i) {
    Drawn d;
    const double sign = coin(random) ? 1 : -1;
    std::vector<Seen> fits{Seen::cut_off};  // a tile may leave the frame as well
    d.scale = 0.65;
    if (i % 4 == 0) {
      d.yaw_deg = sign * between(random, 16, 28), d.pitch_deg = between(random, -10, 10);
      fits.push_back(sign > 0 ? Seen::right_side_away : Seen::left_side_away);
    } else if (i % 4 == 1) {
      d.pitch_deg = sign * between(random, 16, 28), d.yaw_deg = between(random, -10, 10);
      fits.push_back(sign > 0 ? Seen::lower_side_away : Seen::upper_side_away);
    } else if (i % 4 == 2) {
      d.roll_deg = sign * between(random, 16, 85);
      fits.push_back(Seen::rolled);
    } else {
      d.scale = sign > 0 ? between(random, 0.30, 0.50) : between(random, 1.25, 1.55);
      if (sign > 0) fits = {Seen::too_far};
    }
    d.sigma_px = between(random, 0.6, 1.6);
    const auto r = Cameras::analyse(draw(d), {});
    EXPECT_NE(std::find(fits.begin(), fits.end(), r.seen), fits.end())
        << static_cast<int>(r.seen) << " scale " << d.scale << " yaw " << d.yaw_deg << " pitch "
        << d.pitch_deg << " roll " << d.roll_deg;
  }
}

// However much a picture was shaken, a good camera is measured as good or the picture is refused.
TEST(PosesShaken, AreRefusedBeforeAGoodCameraWouldFail) {
  std::mt19937 random(6);
  int refused = 0;
  for (int i = 0; i < 40; ++i) {
    Drawn d = within(random);
    d.sigma_px = 0.8, d.scale = std::min(d.scale, 0.9);
    d.shake_px = between(random, 0, 9),
    d.shake_deg = coin(random) ? between(random, -15, 15) : between(random, 75, 105);
    const auto r = Cameras::analyse(draw(d), {});
    refused += r.seen == Seen::moved;
    if (r.seen != Seen::measured) continue;
    EXPECT_GT(r.mtf50_cpp[0], 0.17) << d.shake_px << " px at " << d.shake_deg;  // the profiles' limit
  }
  EXPECT_GT(refused, 20);
}
}  // namespace
}  // namespace hb::checks
