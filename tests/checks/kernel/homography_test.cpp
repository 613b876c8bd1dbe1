#include "checks/kernel/homography.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace hb::kernel {
namespace {
std::vector<Point> through(const Homography& h, const std::vector<Point>& p) {
  std::vector<Point> out;
  for (const Point q : p) out.push_back(h.at(q));
  return out;
}
const std::vector<Point> kSpread{{-0.6, -0.4}, {0.6, -0.4},  {-0.6, 0.4},  {0.6, 0.4},
                                 {0, 0},       {0.1, -0.25}, {-0.2, 0.15}, {0.35, 0.2}};

struct Exact {
  const char* name;
  std::array<double, 9> h;
};
class ExactMap : public testing::TestWithParam<Exact> {};
TEST_P(ExactMap, ComesBackFromFourPointsAndFromMany) {
  const Homography want{GetParam().h};
  for (const std::size_t n : {std::size_t{4}, kSpread.size()}) {
    const std::vector<Point> from(kSpread.begin(), kSpread.begin() + static_cast<std::ptrdiff_t>(n));
    const auto got = fit_homography(from, through(want, from));
    ASSERT_TRUE(got);
    EXPECT_NEAR(got->rms, 0, 1e-9);
    EXPECT_EQ(got->n, static_cast<int>(n));
    for (const Point p : {Point{0.5, 0.5}, Point{-0.66, 0.1}, Point{0.05, -0.48}}) {
      EXPECT_NEAR(got->map.at(p).x, want.at(p).x, 1e-8);
      EXPECT_NEAR(got->map.at(p).y, want.at(p).y, 1e-8);
    }
    for (std::size_t k = 0; k < 9; ++k) EXPECT_NEAR(got->map.h[k], want.h[k], 1e-8 * 1000) << k;
  }
}
INSTANTIATE_TEST_SUITE_P(
    Homography, ExactMap,
    testing::Values(Exact{"scale_and_shift", {960, 0, 640, 0, 960, 480, 0, 0, 1}},
                    Exact{"rolled", {831, -480, 640, 480, 831, 480, 0, 0, 1}},
                    Exact{"upside_down", {-700, 0, 640, 0, -700, 480, 0, 0, 1}},
                    Exact{"tilted_both_ways", {900, -60, 640, 45, 870, 480, 0.2, -0.15, 1}},
                    Exact{"sheared", {700, 200, 600, 0, 800, 500, 0.05, 0.02, 1}},
                    Exact{"far_from_the_origin", {0.9, 0.1, 1e5, -0.1, 0.95, -3e5, 1e-4, 2e-4, 1}}),
    [](const auto& i) { return i.param.name; });

// Coefficients and residual by R 4.2.2: optim (BFGS), polished by nls, on the same rounded points.
TEST(Homography, LeastSquaresOfTheDistancesInThePictureIsTheOneThatRFinds) {
  const std::vector<double> x{131.207, 1093.745, 84.744, 1106.180, 640.900, 723.252, 467.715, 916.315};
  const std::vector<double> y{109.133, 145.745, 889.800, 819.466, 478.700, 260.149, 623.093, 651.108};
  std::vector<Point> to;
  for (std::size_t i = 0; i < x.size(); ++i) to.push_back({x[i], y[i]});
  const auto got = fit_homography(kSpread, to);
  ASSERT_TRUE(got);
  const double want[] = {899.17537161, -61.73679612, 640.29203255,   46.76058682,
                         868.65184224, 479.84790057, 0.121576114115, -0.0717307586449};
  for (std::size_t k = 0; k < 8; ++k) EXPECT_NEAR(got->map.h[k] / want[k], 1, 1e-5) << k;
  EXPECT_NEAR(got->rms, 0.6509884055, 1e-8);
}

TEST(Homography, DerivativeIsTheDifferenceQuotient) {
  const Homography h{{900, -60, 640, 45, 870, 480, 0.2, -0.15, 1}};
  const Point p{0.3, -0.2};
  const double e = 1e-6;
  const auto d = h.derivative(p);
  const Point a = h.at({p.x + e, p.y}), b = h.at({p.x - e, p.y});
  const Point c = h.at({p.x, p.y + e}), f = h.at({p.x, p.y - e});
  const double want[] = {(a.x - b.x) / 2 / e, (c.x - f.x) / 2 / e, (a.y - b.y) / 2 / e, (c.y - f.y) / 2 / e};
  for (std::size_t k = 0; k < 4; ++k) EXPECT_NEAR(d[k], want[k], 1e-4) << k;
}

TEST(Homography, MorePointsTakeMoreOfTheNoiseAway) {
  std::mt19937 random(7);
  std::normal_distribution<double> noise(0, 0.5);
  const Homography h{{900, -60, 640, 45, 870, 480, 0.2, -0.15, 1}};
  const auto miss = [&](int n) {
    std::uniform_real_distribution<double> x(-0.6, 0.6), y(-0.45, 0.45);
    double sum = 0;
    for (int t = 0; t < 60; ++t) {
      std::vector<Point> from, to;
      for (int i = 0; i < n; ++i) {
        from.push_back({x(random), y(random)});
        const Point q = h.at(from.back());
        to.push_back({q.x + noise(random), q.y + noise(random)});
      }
      const auto got = fit_homography(from, to);
      if (!got) return 1e9;
      sum += std::hypot(got->map.at({0.2, 0.1}).x - h.at({0.2, 0.1}).x,
                        got->map.at({0.2, 0.1}).y - h.at({0.2, 0.1}).y) /
             60;
    }
    return sum;
  };
  const double twelve = miss(12), many = miss(108);
  EXPECT_LT(many, twelve / 2);  // about 1 / sqrt 9
  EXPECT_LT(many, 0.25);
}

TEST(Homography, RefusesWhatGivesNoMap) {
  const std::vector<Point> line{{0, 0}, {1, 1}, {2, 2}, {3, 3}, {4, 4}};
  const std::vector<Point> three_on_a_line{{0, 0}, {1, 0}, {2, 0}, {0, 1}};
  const std::vector<Point> square{{0, 0}, {1, 0}, {0, 1}, {1, 1}};
  const std::vector<Point> same(4, Point{1, 1});
  EXPECT_FALSE(fit_homography(line, line));
  EXPECT_FALSE(fit_homography(three_on_a_line, three_on_a_line));
  EXPECT_FALSE(fit_homography(square, same));
  EXPECT_FALSE(fit_homography(same, square));
  EXPECT_FALSE(fit_homography(std::vector<Point>(square.begin(), square.end() - 1),
                              std::vector<Point>(square.begin(), square.end() - 1)));
  EXPECT_FALSE(fit_homography(square, line));
  auto bad = square;
  bad[2].x = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(fit_homography(bad, square));
  EXPECT_FALSE(fit_homography(square, bad));
}
}  // namespace
}  // namespace hb::kernel
