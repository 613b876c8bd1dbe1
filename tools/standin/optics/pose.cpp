#include "tools/standin/optics/pose.hpp"

#include <cmath>
#include <numbers>

namespace hb::standin {
namespace {
using Rotation = std::array<std::array<double, 3>, 3>;
Rotation times(const Rotation& a, const Rotation& b) {
  Rotation out{};
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      for (std::size_t k = 0; k < 3; ++k) out[i][j] += a[i][k] * b[k][j];
  return out;
}
}  // namespace

View::View(const Pose& p, int width, int height)
    : cx_(0.5 * width), cy_(0.5 * height), r2_(cx_ * cx_ + cy_ * cy_), k_(p.distortion) {
  constexpr double degree = std::numbers::pi / 180;
  const double cy = std::cos(p.yaw_deg * degree), sy = std::sin(p.yaw_deg * degree);
  const double cp = std::cos(p.pitch_deg * degree), sp = std::sin(p.pitch_deg * degree);
  const double cr = std::cos(p.roll_deg * degree), sr = std::sin(p.roll_deg * degree);
  const Rotation yaw{{{cy, 0, -sy}, {0, 1, 0}, {sy, 0, cy}}};
  const Rotation pitch{{{1, 0, 0}, {0, cp, -sp}, {0, sp, cp}}};
  const Rotation roll{{{cr, -sr, 0}, {sr, cr, 0}, {0, 0, 1}}};
  const Rotation r = times(roll, times(pitch, yaw));
  const double f = cx_ / std::tan(0.5 * p.view_deg * degree), s = p.scale * height;
  const double move[3] = {p.shift_x * height, p.shift_y * height, f};
  for (std::size_t j = 0; j < 3; ++j) {
    const double x = j < 2 ? s * r[0][j] : move[0], y = j < 2 ? s * r[1][j] : move[1];
    const double z = j < 2 ? s * r[2][j] : move[2];
    h_[j] = f * x + cx_ * z, h_[3 + j] = f * y + cy_ * z, h_[6 + j] = z;
  }
}

Spot View::straight(Spot c) const noexcept {
  const double w = h_[6] * c[0] + h_[7] * c[1] + h_[8];
  return {(h_[0] * c[0] + h_[1] * c[1] + h_[2]) / w, (h_[3] * c[0] + h_[4] * c[1] + h_[5]) / w};
}

Spot View::seen(Spot c) const noexcept {
  const Spot u = straight(c);
  if (k_ == 0) return u;
  Spot p = u;
  for (int pass = 0; pass < 20; ++pass) {
    const double dx = p[0] - cx_, dy = p[1] - cy_, m = 1 + k_ * (dx * dx + dy * dy) / r2_;
    p = {cx_ + (u[0] - cx_) / m, cy_ + (u[1] - cy_) / m};
  }
  return p;
}

std::array<double, 3> View::line(Spot a, Spot b) const noexcept {
  const Spot p = straight(a), q = straight(b);
  const double dx = q[0] - p[0], dy = q[1] - p[1], length = std::hypot(dx, dy);
  const double nx = -dy / length, ny = dx / length;
  return {nx, ny, -(nx * p[0] + ny * p[1])};
}
}  // namespace hb::standin
