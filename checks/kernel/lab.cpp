#include "checks/kernel/lab.hpp"

#include <cmath>
#include <numbers>

namespace hb::kernel {
namespace {
double cube_root_part(double t) noexcept {  // CIE 15: f(t) with the linear toe
  constexpr double delta = 6.0 / 29;
  return t > delta * delta * delta ? std::cbrt(t) : t / (3 * delta * delta) + 4.0 / 29;
}

constexpr double kDegree = std::numbers::pi / 180;

double hue_deg(double b, double a) noexcept {
  if (a == 0 && b == 0) return 0;
  const double h = std::atan2(b, a) / kDegree;
  return h < 0 ? h + 360 : h;
}

double to_the_seventh(double x) noexcept { return std::pow(x, 7); }
constexpr double k25to7 = 6103515625.0;  // 25^7
}  // namespace

Lab lab_of_linear_srgb(double r, double g, double b) noexcept {
  const double x = 0.4124 * r + 0.3576 * g + 0.1805 * b;
  const double y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
  const double z = 0.0193 * r + 0.1192 * g + 0.9505 * b;
  // The white is the matrix's own row sums, so that equal channels are exactly neutral.
  const double fx = cube_root_part(x / (0.4124 + 0.3576 + 0.1805));
  const double fy = cube_root_part(y / (0.2126 + 0.7152 + 0.0722));
  const double fz = cube_root_part(z / (0.0193 + 0.1192 + 0.9505));
  return {116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)};
}

/// Follows the numbered equations (2)..(22) of the implementation notes.
double ciede2000(const Lab& one, const Lab& two) noexcept {
  const double c_mean = (std::hypot(one.a, one.b) + std::hypot(two.a, two.b)) / 2;
  const double c7 = to_the_seventh(c_mean);
  const double g = 0.5 * (1 - std::sqrt(c7 / (c7 + k25to7)));
  const double a1 = (1 + g) * one.a, a2 = (1 + g) * two.a;
  const double c1 = std::hypot(a1, one.b), c2 = std::hypot(a2, two.b);
  const double h1 = hue_deg(one.b, a1), h2 = hue_deg(two.b, a2);

  double dh = 0;
  if (c1 * c2 != 0) {
    dh = h2 - h1;
    if (dh > 180) dh -= 360;
    if (dh < -180) dh += 360;
  }
  const double d_l = two.l - one.l, d_c = c2 - c1;
  const double d_h = 2 * std::sqrt(c1 * c2) * std::sin(dh / 2 * kDegree);

  const double l = (one.l + two.l) / 2, c = (c1 + c2) / 2;
  double h = h1 + h2;
  if (c1 * c2 != 0) {
    if (std::abs(h1 - h2) > 180) h += h < 360 ? 360 : -360;
    h /= 2;
  }
  const double t = 1 - 0.17 * std::cos((h - 30) * kDegree) + 0.24 * std::cos(2 * h * kDegree) +
                   0.32 * std::cos((3 * h + 6) * kDegree) - 0.20 * std::cos((4 * h - 63) * kDegree);
  const double turn = 30 * std::exp(-std::pow((h - 275) / 25, 2));
  const double cm7 = to_the_seventh(c);
  const double r_c = 2 * std::sqrt(cm7 / (cm7 + k25to7));
  const double l50 = (l - 50) * (l - 50);
  const double s_l = 1 + 0.015 * l50 / std::sqrt(20 + l50);
  const double s_c = 1 + 0.045 * c, s_h = 1 + 0.015 * c * t;
  const double r_t = -std::sin(2 * turn * kDegree) * r_c;
  const double tl = d_l / s_l, tc = d_c / s_c, th = d_h / s_h;
  return std::sqrt(tl * tl + tc * tc + th * th + r_t * tc * th);
}
}  // namespace hb::kernel
