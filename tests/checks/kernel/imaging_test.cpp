#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <numbers>
#include <random>
#include <string>
#include <thread>

#include "checks/kernel/esfr.hpp"
#include "checks/kernel/fourier.hpp"
#include "checks/kernel/lab.hpp"
#include "checks/kernel/srgb.hpp"

namespace hb::kernel {
namespace {

double phi(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

struct Edge {
  double sigma = 1, angle_deg = 5;
  bool pixel_aperture = false, dark_left = true, vertical = true;
  double noise_sd = 0;
  int across = 101, along = 80;
  unsigned seed = 1;
};

/// Gaussian-blurred edge through the middle, sampled at pixel centres or averaged over 8 x 8 sub-samples.
Plane render(const Edge& e) {
  const double a = e.angle_deg * std::numbers::pi / 180;
  std::mt19937 random(e.seed);
  std::normal_distribution<double> noise(0, 1);
  Plane p{e.vertical ? e.across : e.along, e.vertical ? e.along : e.across, {}};
  for (int y = 0; y < p.height; ++y)
    for (int x = 0; x < p.width; ++x) {
      double sum = 0;
      const int n = e.pixel_aperture ? 8 : 1;
      for (int i = 0; i < n; ++i)
        for (int j = 0; j < n; ++j) {
          const double u = (e.vertical ? x : y) + (i + 0.5) / n - 0.5 - 0.5 * (e.across - 1);
          const double v = (e.vertical ? y : x) + (j + 0.5) / n - 0.5 - 0.5 * (e.along - 1);
          sum += phi((u * std::cos(a) - v * std::sin(a)) / e.sigma * (e.dark_left ? 1 : -1));
        }
      p.values.push_back(
          static_cast<float>(0.2 + 0.6 * sum / (n * n) + (e.noise_sd > 0 ? e.noise_sd * noise(random) : 0)));
    }
  return p;
}

struct EdgeRow {
  std::string name;
  Edge edge;
  double mtf50;      // analytic
  double tolerance;  // relative
};
class SlantedEdge : public testing::TestWithParam<EdgeRow> {};
TEST_P(SlantedEdge, MtfFiftyIsTheAnalyticOne) {
  const auto& row = GetParam();
  const auto e = esfr(render(row.edge));
  ASSERT_TRUE(e) << e.error().message();
  EXPECT_NEAR(e->mtf50_cpp / row.mtf50, 1, row.tolerance);
  EXPECT_NEAR(std::abs(e->angle_deg), std::abs(row.edge.angle_deg), 0.05);
  EXPECT_EQ(e->near_vertical, row.edge.vertical);
  EXPECT_NEAR(e->contrast, 0.6, 0.01);
  EXPECT_GT(e->u_mtf50_cpp, 0);
  EXPECT_LT(e->u_mtf50_cpp, 0.02 * row.mtf50 + 0.001);
}
// Analytic MTF50: 0.187390625/sigma without an aperture; with a square pixel aperture the table that
// NumPy/SciPy gave (0.323088, 0.280719, 0.232901, 0.179964, 0.122665, 0.092732).
INSTANTIATE_TEST_SUITE_P(
    Analytic, SlantedEdge,
    testing::Values(EdgeRow{"Sigma050", {.sigma = 0.5}, 0.374781, 0.006},
                    EdgeRow{"Sigma050Pixel", {.sigma = 0.5, .pixel_aperture = true}, 0.323088, 0.005},
                    EdgeRow{"Sigma060Pixel", {.sigma = 0.6, .pixel_aperture = true}, 0.280719, 0.005},
                    EdgeRow{"Sigma075", {.sigma = 0.75}, 0.249854, 0.005},
                    EdgeRow{"Sigma075Pixel", {.sigma = 0.75, .pixel_aperture = true}, 0.232901, 0.005},
                    EdgeRow{"Sigma100", {.sigma = 1.0}, 0.187391, 0.005},
                    EdgeRow{"Sigma100Pixel", {.sigma = 1.0, .pixel_aperture = true}, 0.179964, 0.005},
                    EdgeRow{"Sigma150Pixel", {.sigma = 1.5, .pixel_aperture = true}, 0.122665, 0.01},
                    EdgeRow{"Sigma200", {.sigma = 2.0}, 0.093695, 0.012},
                    EdgeRow{"Sigma300Wide", {.sigma = 3.0}, 0.062464, 0.02},
                    EdgeRow{"Angle3", {.sigma = 0.75, .angle_deg = 3}, 0.249854, 0.01},
                    EdgeRow{"Angle8", {.sigma = 0.75, .angle_deg = 8}, 0.249854, 0.01},
                    EdgeRow{"AngleMinus5", {.sigma = 0.75, .angle_deg = -5}, 0.249854, 0.005},
                    EdgeRow{"OtherPolarity", {.sigma = 0.75, .dark_left = false}, 0.249854, 0.005},
                    EdgeRow{"NearHorizontal", {.sigma = 0.75, .vertical = false}, 0.249854, 0.005},
                    EdgeRow{"NearHorizontalOtherPolarity",
                            {.sigma = 1.0, .angle_deg = -4, .dark_left = false, .vertical = false},
                            0.187391,
                            0.008},
                    EdgeRow{"Noisy", {.sigma = 0.75, .noise_sd = 0.006}, 0.249854, 0.02},
                    EdgeRow{"NoisySoft", {.sigma = 2.0, .noise_sd = 0.006}, 0.093695, 0.02},
                    EdgeRow{"Noisy3px", {.sigma = 3.0, .noise_sd = 0.006}, 0.062464, 0.03}),
    [](const auto& row) { return row.param.name; });

// At 14.04 degrees (1 in 4) pixels fall on places a quarter of a pixel apart, at 18.43 and 26.57 on fewer.
TEST(SlantedEdge, EverySlantGivesTheSameAnswer) {
  for (double angle = 1.5; angle < 29.9; angle += 0.25)
    for (const double sigma : {0.7, 1.2}) {
      const auto e = esfr(render({.sigma = sigma, .angle_deg = angle, .noise_sd = 0.002, .across = 88}));
      ASSERT_TRUE(e) << angle;
      EXPECT_NEAR(e->mtf50_cpp / (0.187390625 / sigma), 1, 0.02) << angle << " deg, sigma " << sigma;
    }
}

TEST(SlantedEdgeCurve, FollowsTheGaussianPointByPoint) {
  const auto e = esfr(render({.sigma = 0.75}));
  ASSERT_TRUE(e);
  // MTF(0.25) 0.499595, MTF(0.5) 0.062298: exp(-2 pi^2 sigma^2 f^2)
  EXPECT_NEAR(response_at(*e, 0), 1, 1e-12);
  EXPECT_NEAR(response_at(*e, 0.25), 0.499595, 0.005);
  EXPECT_NEAR(response_at(*e, 0.5), 0.062298, 0.005);
  EXPECT_EQ(response_at(*e, 5), 0);
}

TEST(SlantedEdgeUncertainty, CoversTheScatterOverNoise) {
  std::vector<double> values, stated;
  for (unsigned seed = 1; seed <= 40; ++seed) {
    const auto e = esfr(render({.sigma = 0.9, .noise_sd = 0.02, .seed = seed}));
    ASSERT_TRUE(e);
    values.push_back(e->mtf50_cpp);
    stated.push_back(e->u_mtf50_cpp);
  }
  double m = 0, ss = 0, u = 0;
  for (const double v : values) m += v / 40;
  for (const double v : values) ss += (v - m) * (v - m) / 39;
  for (const double s : stated) u += s / 40;
  EXPECT_GT(u / std::sqrt(ss), 0.7);
  EXPECT_LT(u / std::sqrt(ss), 2.0);
}

TEST(SlantedEdgeRefuses, WhatIsNoSlantedEdge) {
  EXPECT_FALSE(esfr(Plane{10, 10, std::vector<float>(100, 0.5f)}));
  EXPECT_FALSE(esfr(Plane{50, 50, std::vector<float>(2500, 0.5f)}));
  EXPECT_FALSE(esfr(Plane{50, 50, std::vector<float>(2500, NAN)}));
  EXPECT_FALSE(esfr(Plane{50, 50, std::vector<float>(7, 0.5f)}));
  EXPECT_FALSE(esfr(render({.sigma = 0.75, .angle_deg = 0})));
  EXPECT_FALSE(esfr(render({.sigma = 0.75, .angle_deg = 45})));
}

TEST(SlantedEdgeSpeed, TenEdgesFitIntoTheTimeOfAFrame) {
  const Plane p = render({.sigma = 0.75, .noise_sd = 0.004, .across = 110, .along = 100});
  const auto start = std::chrono::steady_clock::now();
  for (int i = 0; i < 10; ++i) ASSERT_TRUE(esfr(p));
  const auto ms = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
  RecordProperty("ten_edges_ms", std::to_string(ms));
  EXPECT_LT(ms, 500) << "generous: a shared machine, a debug or sanitizer build";
}

TEST(Fourier, ModulusOfATone) {
  std::vector<double> x;
  for (int j = 0; j < 8; ++j) x.push_back(j + 1);
  const auto m = RealDft(8).modulus(x);
  // |DFT|^2 of 1..8: NumPy 1.24.2
  const double squares[] = {1296, 109.254834, 32, 18.745166, 16};
  ASSERT_EQ(m.size(), 5U);
  for (std::size_t k = 0; k < m.size(); ++k) EXPECT_NEAR(m[k] * m[k], squares[k], 1e-6);
  EXPECT_THROW(RealDft(0), std::invalid_argument);
}

TEST(Fourier, PlansMayBeMadeOnManyThreads) {
  std::vector<std::jthread> threads;
  for (int t = 0; t < 4; ++t)
    threads.emplace_back([t] {
      for (int i = 0; i < 50; ++i) {
        RealDft d(64 + t + i);
        const std::vector<double> one(static_cast<std::size_t>(d.size()), 1.0);
        if (std::abs(d.modulus(one)[0] - d.size()) > 1e-9) ADD_FAILURE();
      }
    });
}

TEST(Srgb, TableAndRoundTrip) {
  // IEC 61966-2-1 formula, numbers recomputed with R 4.2.2
  const std::vector<std::pair<int, double>> rows{{0, 0},
                                                 {1, 0.000303527},
                                                 {10, 0.003035270},
                                                 {11, 0.003346536},
                                                 {64, 0.051269458},
                                                 {118, 0.181164244},
                                                 {127, 0.212230757},
                                                 {128, 0.215860500},
                                                 {188, 0.502886458},
                                                 {200, 0.577580440},
                                                 {254, 0.991102097},
                                                 {255, 1}};
  for (const auto& [code, linear] : rows)
    EXPECT_NEAR(srgb_table()[static_cast<std::size_t>(code)], linear, 5e-10) << code;
  const std::vector<std::pair<double, double>> coded{
      {0.0031308, 0.040450}, {0.01, 0.099853}, {0.18, 0.461356}, {0.5, 0.735357}};
  for (const auto& [linear, code] : coded) EXPECT_NEAR(srgb_encode(linear), code, 5e-7) << linear;
  EXPECT_EQ(srgb_code(0.18), 118);
  EXPECT_EQ(srgb_code(0.5), 188);
  for (int c = 0; c < 256; ++c) EXPECT_EQ(srgb_code(srgb_table()[static_cast<std::size_t>(c)]), c);
  EXPECT_EQ(srgb_code(-1), 0);
  EXPECT_EQ(srgb_code(7), 255);
}

struct Pair {
  Lab one, two;
  double de;
};
// Sharma, Wu, Dalal (2005), table 1, all 34 pairs.
const std::vector<Pair> kSharma{{{50.0000, 2.6772, -79.7751}, {50.0000, 0.0000, -82.7485}, 2.0425},
                                {{50.0000, 3.1571, -77.2803}, {50.0000, 0.0000, -82.7485}, 2.8615},
                                {{50.0000, 2.8361, -74.0200}, {50.0000, 0.0000, -82.7485}, 3.4412},
                                {{50.0000, -1.3802, -84.2814}, {50.0000, 0.0000, -82.7485}, 1.0000},
                                {{50.0000, -1.1848, -84.8006}, {50.0000, 0.0000, -82.7485}, 1.0000},
                                {{50.0000, -0.9009, -85.5211}, {50.0000, 0.0000, -82.7485}, 1.0000},
                                {{50.0000, 0.0000, 0.0000}, {50.0000, -1.0000, 2.0000}, 2.3669},
                                {{50.0000, -1.0000, 2.0000}, {50.0000, 0.0000, 0.0000}, 2.3669},
                                {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0009}, 7.1792},
                                {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0010}, 7.1792},
                                {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0011}, 7.2195},
                                {{50.0000, 2.4900, -0.0010}, {50.0000, -2.4900, 0.0012}, 7.2195},
                                {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0009, -2.4900}, 4.8045},
                                {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0010, -2.4900}, 4.8045},
                                {{50.0000, -0.0010, 2.4900}, {50.0000, 0.0011, -2.4900}, 4.7461},
                                {{50.0000, 2.5000, 0.0000}, {50.0000, 0.0000, -2.5000}, 4.3065},
                                {{50.0000, 2.5000, 0.0000}, {73.0000, 25.0000, -18.0000}, 27.1492},
                                {{50.0000, 2.5000, 0.0000}, {61.0000, -5.0000, 29.0000}, 22.8977},
                                {{50.0000, 2.5000, 0.0000}, {56.0000, -27.0000, -3.0000}, 31.9030},
                                {{50.0000, 2.5000, 0.0000}, {58.0000, 24.0000, 15.0000}, 19.4535},
                                {{50.0000, 2.5000, 0.0000}, {50.0000, 3.1736, 0.5854}, 1.0000},
                                {{50.0000, 2.5000, 0.0000}, {50.0000, 3.2972, 0.0000}, 1.0000},
                                {{50.0000, 2.5000, 0.0000}, {50.0000, 1.8634, 0.5757}, 1.0000},
                                {{50.0000, 2.5000, 0.0000}, {50.0000, 3.2592, 0.3350}, 1.0000},
                                {{60.2574, -34.0099, 36.2677}, {60.4626, -34.1751, 39.4387}, 1.2644},
                                {{63.0109, -31.0961, -5.8663}, {62.8187, -29.7946, -4.0864}, 1.2630},
                                {{61.2901, 3.7196, -5.3901}, {61.4292, 2.2480, -4.9620}, 1.8731},
                                {{35.0831, -44.1164, 3.7933}, {35.0232, -40.0716, 1.5901}, 1.8645},
                                {{22.7233, 20.0904, -46.6940}, {23.0331, 14.9730, -42.5619}, 2.0373},
                                {{36.4612, 47.8580, 18.3852}, {36.2715, 50.5065, 21.2231}, 1.4146},
                                {{90.8027, -2.0831, 1.4410}, {91.1528, -1.6435, 0.0447}, 1.4441},
                                {{90.9257, -0.5406, -0.9208}, {88.6381, -0.8985, -0.7239}, 1.5381},
                                {{6.7747, -0.2908, -2.4247}, {5.8714, -0.0985, -2.2286}, 0.6377},
                                {{2.0776, 0.0795, -1.1350}, {0.9033, -0.0636, -0.5514}, 0.9082}};

TEST(Ciede2000, AllThePublishedPairsBothWays) {
  ASSERT_EQ(kSharma.size(), 34U);
  for (std::size_t i = 0; i < kSharma.size(); ++i) {
    const auto& p = kSharma[i];
    EXPECT_NEAR(ciede2000(p.one, p.two), p.de, 1e-4) << "pair " << i + 1;
    EXPECT_NEAR(ciede2000(p.two, p.one), p.de, 1e-4) << "pair " << i + 1 << " swapped";
  }
}

TEST(LabOfSrgb, GreysAreNeutralAndWhiteIsAHundred) {
  for (const double g : {0.001, 0.18, 0.5, 1.0}) {
    const Lab lab = lab_of_linear_srgb(g, g, g);
    EXPECT_NEAR(lab.a, 0, 1e-12);
    EXPECT_NEAR(lab.b, 0, 1e-12);
  }
  EXPECT_NEAR(lab_of_linear_srgb(1, 1, 1).l, 100, 1e-12);
  // 18 % reflectance is L* 49.496 (CIE 15: 116 * 0.18^(1/3) - 16, arithmetic)
  EXPECT_NEAR(lab_of_linear_srgb(0.18, 0.18, 0.18).l, 49.4961, 1e-4);
}

}  // namespace
}  // namespace hb::kernel
