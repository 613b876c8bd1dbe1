#include "drawn_chart.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace hb::checks::testing {
namespace {
double normal(double z) { return z > 6 ? 1 : z < -6 ? 0 : 0.5 * std::erfc(-z * std::numbers::sqrt2 / 2); }

/// Share of a blurred square of half side `h` at (u, v) in its own axes.
double covered(double u, double v, double h, double sigma) {
  const double a = normal((h - u) / sigma) - normal((-h - u) / sigma);
  return a == 0 ? 0 : a * (normal((h - v) / sigma) - normal((-h - v) / sigma));
}

std::vector<std::uint8_t> code_table() {  // IEC 61966-2-1
  std::vector<std::uint8_t> table;
  for (int i = 0; i <= 16384; ++i) {
    const double l = i / 16384.0;
    const double c = l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1 / 2.4) - 0.055;
    table.push_back(static_cast<std::uint8_t>(std::lround(255 * c)));
  }
  return table;
}

/// Nearly normal noise of unit variance: the sum of four 16-bit uniforms of one SplitMix64 step.
double noise(std::uint64_t& state) {
  std::uint64_t z = state += 0x9e3779b97f4a7c15ull;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  z ^= z >> 31;
  const auto sum = (z & 0xffff) + (z >> 16 & 0xffff) + (z >> 32 & 0xffff) + (z >> 48);
  return (static_cast<double>(sum) / 65535 - 2) * std::numbers::sqrt3;
}
}  // namespace

Frame draw(const Drawn& d) {
  const Cameras::Chart chart;
  const auto code = code_table();
  std::uint64_t random = d.seed;
  const auto coded = [&](double light) {
    return code[static_cast<std::size_t>(std::clamp(light + d.noise_sd * noise(random), 0.0, 1.0) * 16384 +
                                         0.5)];
  };
  const double w = d.width, h = d.height, degree = std::numbers::pi / 180;
  const double roll = d.roll_deg * degree + (d.upside_down ? std::numbers::pi : 0);
  const double cr = std::cos(roll), sr = std::sin(roll);
  const double ct = std::cos(chart.angle_deg * degree), st = std::sin(chart.angle_deg * degree);
  Frame f;
  f.width = d.width, f.height = d.height;
  f.rgb.reserve(3 * static_cast<std::size_t>(d.width) * static_cast<std::size_t>(d.height));
  for (int y = 0; y < d.height; ++y)
    for (int x = 0; x < d.width; ++x) {
      const double px = x + 0.5 - w / 2 - d.shift_x, py = y + 0.5 - h / 2 - d.shift_y;
      // chart coordinates in pixels of a frame that it fills
      const double cx = (px * cr + py * sr) / d.scale, cy = (-px * sr + py * cr) / d.scale;
      const double sigma = (d.sigma_px + d.sigma_right_px * (x + 0.5) / w) / d.scale;
      double light = chart.ground;
      for (std::size_t k = 0; d.chart && k < 5; ++k) {
        const double dx = cx - (chart.x[k] - 0.5) * w, dy = cy - (chart.y[k] - 0.5) * h;
        if (std::max(std::abs(dx), std::abs(dy)) > 0.14 * h) continue;
        light -=
            (chart.ground - 0.18) * covered(dx * ct - dy * st, dx * st + dy * ct, chart.side * h / 2, sigma);
      }
      if (d.chart)
        light -= (chart.ground - chart.trap) * covered(cx - (chart.trap_x - 0.5) * w,
                                                       cy - (chart.trap_y - 0.5) * h, chart.trap_side * h / 2,
                                                       sigma);
      const double qx = 2 * (x + 0.5) / w - 1, qy = 2 * (y + 0.5) / h - 1;
      double shade = 1 - d.shading * (qx * qx + qy * qy) / 2;
      const double nearness = (1 - qx) * (1 - qy) / 4;  // 1 in the top left corner
      shade *= 1 - d.corner_dark * nearness * nearness;
      light = (light * shade + d.veil * chart.ground) / (chart.ground * (1 + d.veil)) * d.exposure;
      f.rgb.push_back(coded(light * d.red));
      f.rgb.push_back(coded(light));
      f.rgb.push_back(coded(light * d.blue));
    }
  return f;
}
}  // namespace hb::checks::testing
