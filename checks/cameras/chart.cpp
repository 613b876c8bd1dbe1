#include "chart.hpp"

#include <cmath>
#include <numbers>

namespace hb::checks::camera {
std::array<kernel::Point, 4> corners(const Chart& c, std::size_t k) noexcept {
  // Left x = -h - t y, right x = h + t y, top y = -h - t x, bottom y = h + t x: where they meet.
  const double h = 0.5 * c.side, t = std::tan(c.lean_deg * std::numbers::pi / 180);
  const auto [x, y] = position(c, c.x[k], c.y[k]);
  const double small = h / (1 + t), large = h / (1 - t);
  const double in = h * (1 - t) / (1 + t * t), out = h * (1 + t) / (1 + t * t);
  return {{{x - small, y - small}, {x + in, y - out}, {x + large, y + large}, {x - out, y + in}}};
}
}  // namespace hb::checks::camera
