#include "tools/standin/hands/pose.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace hb::standin {
namespace {
double dot(const Axes& a, const Axes& b) noexcept { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }
Axes cross(const Axes& a, const Axes& b) noexcept {
  return {a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
}
Axes scaled(const Axes& a, double k) noexcept { return {k * a[0], k * a[1], k * a[2]}; }
Axes unit(const Axes& a) noexcept { return scaled(a, 1 / std::sqrt(dot(a, a))); }
}  // namespace

Axes face_up(int face, std::uint64_t seed) noexcept {
  constexpr std::size_t axis_of[] = {2, 1, 0};
  const auto f = static_cast<std::size_t>(std::clamp(face, 1, 6) - 1);
  const std::size_t axis = axis_of[f / 2];
  const Noise hand(seed, "laying");
  constexpr double most = std::numbers::pi / 180;
  Axes up{};
  for (std::size_t i = 0; i < 3; ++i) up[i] = hand.uniform(3 * f + i, -most, most);
  up[axis] = f % 2 == 0 ? 1 : -1;
  return unit(up);
}

Turning turned(const Axes& from, const Axes& to, double u, double seconds) noexcept {
  Axes axis = cross(from, to);
  const double sine = std::sqrt(dot(axis, axis));
  const double angle = std::atan2(sine, dot(from, to));
  if (sine < 1e-6) {  // the same face, or the opposite one: over any edge
    const Axes any = std::abs(from[0]) < 0.9 ? Axes{1, 0, 0} : Axes{0, 1, 0};
    axis = cross(from, any);
  }
  axis = unit(axis);
  // Rodrigues' formula; the axis is square to `from`.
  const double s = u * u * (3 - 2 * u), rate = seconds > 0 ? 6 * u * (1 - u) / seconds : 0;
  const Axes side = cross(axis, from);
  const double c = std::cos(angle * s), d = std::sin(angle * s);
  Turning out;
  for (std::size_t i = 0; i < 3; ++i) out.up[i] = c * from[i] + d * side[i];
  // The world turns about `axis` as seen from the phone, so the phone turns the other way.
  out.rate_rad_s = scaled(axis, -angle * rate);
  return out;
}
}  // namespace hb::standin
