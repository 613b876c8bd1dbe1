// Spots that stay in a camera's picture: found, told from the chart's own specks, and counted.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <random>

#include "camera_world.hpp"
#include "checks/cameras/pixels.hpp"

namespace hb::checks {
namespace {
using namespace testing;
using camera::AtPlace;
using camera::SpotSearch;

/// An even field with noise of its own in each colour.
Frame field(double code, double sd, unsigned seed, int width = 640, int height = 480) {
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(code, sd);
  Frame f;
  f.width = width, f.height = height;
  f.rgb.resize(3 * static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
  for (auto& c : f.rgb) c = static_cast<std::uint8_t>(std::clamp(std::lround(noise(random)), 0L, 255L));
  return f;
}
std::uint8_t& code(Frame& f, int x, int y, int colour) {
  return f.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(f.width) +
                    static_cast<std::size_t>(x)) +
               static_cast<std::size_t>(colour)];
}
/// Adds `step` to a disc; of radius 1 to one pixel, half of it beside and a quarter across.
void blot(Frame& f, int x, int y, double step, int radius = 1, int colour = 1) {
  for (int dy = -radius; dy <= radius; ++dy)
    for (int dx = -radius; dx <= radius; ++dx) {
      const int away = std::abs(dx) + std::abs(dy);
      const double share = radius > 1 ? (dx * dx + dy * dy <= radius * radius ? 1 : 0) : std::exp2(-away);
      auto& c = code(f, x + dx, y + dy, colour);
      c = static_cast<std::uint8_t>(std::clamp(std::lround(c + share * step), 0L, 255L));
    }
}

// Rounding to codes adds 1/12 to the variance, and codes that stand for all of their width half as much
// again. The quiet quarter of the blocks, each off by 7 %, is 5 % under it (R: 1 + 0.073 * qnorm(0.25)).
TEST(Spots, NoiseIsWhatWasDrawnAndMakesNoSpot) {
  for (const double sd : {0.8, 1.5, 3.0})
    for (unsigned seed = 1; seed <= 4; ++seed) {
      const auto s = SpotSearch(field(128, sd, seed)).all();
      EXPECT_NEAR(s.noise / std::sqrt(sd * sd + 1.0 / 8), 0.96, 0.045) << sd;
      EXPECT_EQ(s.seen, 0) << sd;
      EXPECT_GT(s.searched, 0.93) << sd;  // all but a margin of 4 pixels
    }
}

struct SpotRow {
  const char* name;
  double sd, step;
  int radius, found;
};
void PrintTo(const SpotRow& r, std::ostream* o) { *o << r.name; }
class SpotShows : public ::testing::TestWithParam<SpotRow> {};
TEST_P(SpotShows, WhenItStandsOutOfTheNoise) {
  const auto& row = GetParam();
  for (const int colour : {0, 1, 2}) {
    Frame f = field(128, row.sd, 7);
    blot(f, 300, 200, row.step, row.radius, colour);
    const auto s = SpotSearch(f).all();
    ASSERT_EQ(s.all.size(), static_cast<std::size_t>(row.found)) << colour;
    if (row.found == 0) continue;
    EXPECT_LE(std::hypot(s.all[0].x - 300, s.all[0].y - 200), row.radius) << colour;
    EXPECT_EQ(s.all[0].bright, row.step > 0);
    EXPECT_NEAR(s.all[0].level, 128, 1);
  }
}
INSTANTIATE_TEST_SUITE_P(
    Table, SpotShows,
    ::testing::Values(SpotRow{"BrightInQuiet", 0.5, 9, 1, 1}, SpotRow{"DarkInQuiet", 0.5, -9, 1, 1},
                      SpotRow{"FaintInQuiet", 0.2, 4, 1, 0}, SpotRow{"FourSdAreTooFew", 3, 12, 1, 0},
                      SpotRow{"ThirteenSd", 3, 39, 1, 1}, SpotRow{"FivePixelsWide", 1, -60, 2, 1},
                      SpotRow{"ABlackDiscIsNoPixel", 1, -60, 9, 0}),
    [](const auto& i) { return i.param.name; });

TEST(Spots, EdgesAndTextureAreNotSearched) {
  Frame f = field(200, 1, 3);
  for (int y = 0; y < f.height; ++y)
    for (int x = 0; x < f.width; ++x)
      for (int c = 0; c < 3; ++c) {
        if (x > 320 + y / 9) code(f, x, y, c) = static_cast<std::uint8_t>(code(f, x, y, c) - 120);
        if (y > 240 && x < 200 && (x / 2 + y / 3) % 2 == 0)
          code(f, x, y, c) = static_cast<std::uint8_t>(code(f, x, y, c) - 20);
      }
  blot(f, 100, 400, 50);  // in the texture
  blot(f, 334, 120, 40);  // on the edge
  blot(f, 500, 300, 40);  // in the dark half
  const SpotSearch search(f);
  const auto s = search.all();
  ASSERT_EQ(s.all.size(), 1U);
  EXPECT_EQ(s.all[0].x, 500);
  EXPECT_NEAR(s.searched, 1 - 200.0 * 240 / (640 * 480) - 9.0 / 640, 0.06);
  EXPECT_EQ(search.at({500, 301, 80, true}), AtPlace::stands);
  EXPECT_EQ(search.at({560, 300, 80, true}), AtPlace::clean);
  EXPECT_EQ(search.at({100, 100, 80, true}), AtPlace::unsearched) << "need not show on so light a place";
  EXPECT_EQ(search.at({334, 120, 150, true}), AtPlace::unsearched);
  Frame rough = field(128, 40, 5);
  EXPECT_EQ(SpotSearch(rough).all().searched, 0);
}

TEST(Spots, AMillionDefectsAreBoundedAndStillTheSameInEachFrame) {
  std::vector<camera::PixelLook> frames(3);
  for (unsigned i = 0; i < 3; ++i) {
    Frame f = field(128, 1, i);
    for (int y = 10; y < 470; y += 12)
      for (int x = 10; x < 630; x += 12) blot(f, x, y, 60);
    frames[i].spots = SpotSearch(f).all();
    EXPECT_EQ(frames[i].spots.all.size(), camera::kMostSpots);
    EXPECT_EQ(frames[i].spots.seen, 39 * 52);
  }
  EXPECT_EQ(camera::staying(frames).size(), camera::kMostSpots);
}

// Chance: three frames of spots scattered at random, against the number that stays in 4000 draws.
TEST(Standing, ExpectsByChanceWhatChanceGives) {
  std::mt19937 random(11);
  std::uniform_int_distribution<int> x(0, 199), y(0, 149);
  double stayed = 0, expected = 0;
  constexpr int draws = 4000;
  for (int i = 0; i < draws; ++i) {
    std::vector<camera::PixelLook> take(3);
    for (auto& f : take) {
      f.spots.searched = 1, f.spots.samples = 100, f.spots.seen = 100;
      for (int k = 0; k < 100; ++k) f.spots.all.push_back({x(random), y(random), 128, true});
    }
    stayed += static_cast<double>(camera::staying(take).size());
    expected = camera::standing(take, {}, 200, 150).chance;
  }
  EXPECT_NEAR(stayed / draws, expected, 4 * std::sqrt(expected / draws));
}

// ---------------------------------------------------------------------------------- on the chart

constexpr int kMany = 12;
Drawn pose(int aim, bool rests) {
  Drawn d;
  d.scale = 0.9;
  if (aim > 1 && !rests) d.shift_x = 23, d.shift_y = -14;
  return d;
}
/// Frame `i` of a take; each is drawn once.
Frame taken(int aim, bool rests, int i) {
  static std::map<std::pair<bool, int>, Frame> drawn;
  const auto key = std::pair(aim > 1 && !rests, i);
  const auto at = drawn.find(key);
  return copy_of(at != drawn.end() ? at->second
                                   : drawn.emplace(key, frame(pose(aim, rests), i)).first->second);
}
/// Pixel of a chart position in fractions; the pose has neither tilt nor roll.
std::pair<double, double> seen_at(const Drawn& d, double fx, double fy) {
  const double h = d.scale * d.height;
  return {d.width / 2.0 + d.shift_x + (fx - 0.5) * 4 / 3 * h, d.height / 2.0 + d.shift_y + (fy - 0.5) * h};
}
void speck(Frame& f, double x, double y) {
  for (int j = static_cast<int>(y) - 2; j <= static_cast<int>(y) + 2; ++j)
    for (int i = static_cast<int>(x) - 2; i <= static_cast<int>(x) + 2; ++i)
      for (int c = 0; c < 3; ++c) {
        const double r2 = std::pow(i + 0.5 - x, 2) + std::pow(j + 0.5 - y, 2);
        code(f, i, j, c) = static_cast<std::uint8_t>(code(f, i, j, c) * (1 - 0.4 * std::exp(-r2 / 1.3)));
      }
}

struct StayRow {
  const char* name;
  int stuck, specks;
  bool rests;  ///< on a stand: a second aim is the same as the first
  double value, u;
  int aims;
  const char *outcome, *says;
};
void PrintTo(const StayRow& r, std::ostream* o) { *o << r.name; }
class SpotsStay : public ::testing::TestWithParam<StayRow> {};
TEST_P(SpotsStay, AreTheCamerasOnlyIfTheChartMovedUnderThem) {
  const auto& row = GetParam();
  World w;
  FakePhone phone;
  phone.total = 1;
  auto config = config_of();
  config.cameras.resize(1);
  w.counted = [](Facing f) { return f == Facing::back ? 1 : 0; };
  w.picture = [&](Facing, int, std::uint64_t i) {
    const Drawn d = pose(w.points, row.rests);
    Frame f = taken(w.points, row.rests, static_cast<int>(i % 3));
    for (int k = 0; k < row.stuck; ++k) blot(f, 120 + 90 * k, 610, k % 2 == 0 ? 200 : -200, 1, k % 3);
    for (int k = 0; k < row.specks; ++k) {
      const auto [x, y] = seen_at(d, 0.1 + 0.07 * k, 0.34);
      speck(f, x, y);
    }
    return f;
  };
  const auto c = capture_of(w, phone, true, config);
  ASSERT_TRUE(c);
  EXPECT_EQ(w.points, row.aims);
  EXPECT_EQ(w.hints.back(), row.aims > 1 ? Seen::spots_stay : Seen::measured);
  std::vector<Limit> lim;
  for (const auto& l : limits({"wide"}))
    if (l.key != "cameras.listed") lim.push_back(l);
  const auto again = nlohmann::json::parse(nlohmann::json(*c).dump()).get<Cameras::Capture>();
  const auto r =
      finish_result(Cameras::needs(), Cameras::measure(again, config), lim,
                    [&](std::span<const Verdict> v) { return Cameras::diagnose(v, again, config); });
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), row.outcome) << r->reason;
  EXPECT_EQ(value(*r, "stuck_pixels"), row.value);
  EXPECT_GT(value(*r, "pixels_searched_pct"), 85);
  for (const Verdict& v : r->verdicts)
    if (v.measure.key.view() == "cameras.stuck_pixels") {
      EXPECT_NEAR(v.measure.u, row.u, 1e-9);
    }
  ASSERT_EQ(r->findings.size(), *row.says == '\0' ? 0U : 1U);
  if (!r->findings.empty()) {
    EXPECT_EQ(r->findings[0].id.view(), "stuck_pixels");
    EXPECT_NE(r->findings[0].says.view().find(row.says), std::string_view::npos);
  }
}
INSTANTIATE_TEST_SUITE_P(
    Table, SpotsStay,
    ::testing::Values(StayRow{"Clean", 0, 0, false, 0, 0, 1, "pass", ""},
                      StayRow{"TwoAreNotWorthAnotherAim", 2, 0, false, 1, 2 / std::sqrt(12.0), 1, "pass", ""},
                      StayRow{"ManyPixels", kMany, 0, false, kMany, 0, 2, "fail", "while the chart moves"},
                      StayRow{"ADustyChart", 0, kMany, false, 0, 0, 2, "pass", ""},
                      StayRow{"BothTogether", 5, kMany, false, 5, 0, 2, "fail", "while the chart moves"},
                      StayRow{"ADustyChartBeforeAStand", 0, kMany, true, 6, kMany / std::sqrt(12.0), 2,
                              "marginal", "either specks of dust"}),
    [](const auto& i) { return i.param.name; });

// Within one take: a hand that moved by some pixels has told already, and no second aim is needed.
TEST(Standing, FramesOfOneTakeThatMovedTellByThemselves) {
  for (const double step : {0.0, 2.0}) {
    std::vector<camera::PixelLook> take;
    for (int i = 0; i < 3; ++i) {
      Drawn d = pose(1, true);
      d.shift_x = i * step;
      Frame f = frame(d, i);
      blot(f, 300, 610, -200);
      const auto [x, y] = seen_at(d, 0.4, 0.34);
      speck(f, x, y);
      take.push_back(Cameras::analyse(f, {}).pixels);
    }
    const auto s = camera::standing(take, {}, 1280, 960);
    EXPECT_EQ(s.on_sensor, step > 0 ? 1 : 0);
    EXPECT_EQ(s.undecided, step > 0 ? 0 : 2);
    EXPECT_NEAR(camera::moved_px(take[0].map, take[2].map, {300, 610}), 2 * step, 0.2);
  }
}

TEST(Standing, APictureThatIsRoughNearlyAllOverIsNotCounted) {
  World w;
  FakePhone phone;
  auto c = capture_of(w, phone).value();
  for (auto& f : c.cameras[0].frames) f.pixels.spots.searched = 0.15;
  const auto r = judge(c);
  ASSERT_TRUE(r);
  EXPECT_EQ(name(r->outcome).view(), "not tested");
  EXPECT_NE(r->reason.find("too little"), std::string::npos) << r->reason;
  EXPECT_TRUE(std::isnan(value(*r, "stuck_pixels")));
  c.cameras[0].elsewhere.push_back({{}, {AtPlace::stands}});  // of a spot that is not there
  EXPECT_EQ(Cameras::measure(c, config_of()).error().code, ErrorCode::bad_format);
}
}  // namespace
}  // namespace hb::checks
