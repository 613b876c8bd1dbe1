#include "held.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace hb::checks::camera {
namespace {
using kernel::Plane;
using kernel::Point;
constexpr double kDegree = std::numbers::pi / 180;
constexpr int kProfiles = 24;     // along a side
constexpr double kFarRms = 0.05;  // of a tile's side: a bent chart, or another one

/// Light between the pixels; the frame's border goes on outside.
double light_at(const Plane& p, double x, double y) noexcept {
  const double u = std::clamp(x - 0.5, 0.0, p.width - 1.001), v = std::clamp(y - 0.5, 0.0, p.height - 1.001);
  const int i = static_cast<int>(u), j = static_cast<int>(v);
  const double a = u - i, b = v - j;
  return (1 - b) * ((1 - a) * static_cast<double>(p.at(i, j)) + a * static_cast<double>(p.at(i + 1, j))) +
         b * ((1 - a) * static_cast<double>(p.at(i, j + 1)) + a * static_cast<double>(p.at(i + 1, j + 1)));
}

/// Where the light along a profile, dark to light, crosses the middle between its ends; nullopt: no step.
std::optional<double> crossing(const std::vector<double>& v) {
  const std::size_t n = v.size(), ends = std::max<std::size_t>(2, n / 6);
  double dark = 0, bright = 0;
  for (std::size_t i = 0; i < ends; ++i) dark += v[i], bright += v[n - 1 - i];
  dark /= static_cast<double>(ends), bright /= static_cast<double>(ends);
  if (!(bright > 1.15 * dark)) return std::nullopt;
  const double half = 0.5 * (dark + bright);
  std::optional<double> at;
  for (std::size_t i = 0; i + 1 < n; ++i) {
    if (!(v[i] < half) || !(v[i + 1] >= half)) continue;
    const double x = static_cast<double>(i) + (half - v[i]) / (v[i + 1] - v[i]);
    const double middle = 0.5 * static_cast<double>(n - 1);
    if (!at || std::abs(x - middle) < std::abs(*at - middle)) at = x;
  }
  return at;
}

/// The line of a side that should run from `a` to `b`, the tile on its right.
std::optional<kernel::TotalLine> side_line(const Plane& light, Point a, Point b) {
  const double dx = b.x - a.x, dy = b.y - a.y, length = std::hypot(dx, dy);
  if (!(length > 8)) return std::nullopt;
  const double nx = dy / length, ny = -dx / length;  // outwards
  const double reach = 0.3 * length;
  const int steps = std::max(12, static_cast<int>(2 * reach));
  std::vector<Point> points;
  std::vector<double> profile(static_cast<std::size_t>(steps));
  for (int i = 0; i < kProfiles; ++i) {
    const double t = 0.2 + 0.6 * (i + 0.5) / kProfiles, x = a.x + t * dx, y = a.y + t * dy;
    const double step = 2 * reach / (steps - 1);
    for (int k = 0; k < steps; ++k) {
      const double d = -reach + k * step;
      // Two more samples along the side: less noise, and the edge is straight.
      double sum = 0;
      for (const double along : {-1.0, 0.0, 1.0})
        sum += light_at(light, x + d * nx + along * dx / length, y + d * ny + along * dy / length);
      profile[static_cast<std::size_t>(k)] = sum / 3;
    }
    if (const auto at = crossing(profile)) {
      const double d = -reach + *at * step;
      points.push_back({x + d * nx, y + d * ny});
    }
  }
  for (int pass = 0; pass < 2; ++pass) {
    if (points.size() < kProfiles / 2) return std::nullopt;
    const auto line = kernel::fit_total_line(points);
    if (!line || pass == 1) return line;
    const double limit = std::max(0.5, 2.5 * line->rms);
    std::erase_if(points, [&](Point p) { return std::abs(line->distance(p)) > limit; });
  }
  return std::nullopt;
}

std::optional<Point> meeting(const kernel::TotalLine& a, const kernel::TotalLine& b) {
  const double cross = a.dx * b.dy - a.dy * b.dx;
  if (std::abs(cross) < 0.3) return std::nullopt;
  const double t = ((b.cx - a.cx) * b.dy - (b.cy - a.cy) * b.dx) / cross;
  return Point{a.cx + t * a.dx, a.cy + t * a.dy};
}

std::optional<std::array<Point, 4>> outlined(const Plane& light, const std::array<Point, 4>& guess) {
  std::array<kernel::TotalLine, 4> sides;
  for (std::size_t j = 0; j < 4; ++j) {
    const auto line = side_line(light, guess[j], guess[(j + 1) % 4]);
    if (!line) return std::nullopt;
    sides[j] = *line;
  }
  std::array<Point, 4> out;
  for (std::size_t j = 0; j < 4; ++j) {
    const auto p = meeting(sides[(j + 3) % 4], sides[j]);
    if (!p) return std::nullopt;
    out[j] = *p;
  }
  return out;
}

/// Map by the tiles' middles, the right way up or upside down: the trap tells, it is darker than the ground.
std::optional<kernel::Homography> by_middles(const Plane& light, const Chart& chart, const Rough& rough) {
  std::array<Point, 5> from, to = rough.middle;
  for (std::size_t k = 0; k < 5; ++k) from[k] = position(chart, chart.x[k], chart.y[k]);
  const auto first = kernel::fit_homography(from, to);
  if (!first) return std::nullopt;
  const Point trap = position(chart, chart.trap_x, chart.trap_y);
  const Point here = first->map.at(trap), there = first->map.at({-trap.x, -trap.y});
  if (light_at(light, here.x, here.y) <= light_at(light, there.x, there.y)) return first->map;
  std::swap(to[1], to[4]), std::swap(to[2], to[3]);
  const auto other = kernel::fit_homography(from, to);
  if (!other) return std::nullopt;
  return other->map;
}
}  // namespace

double Held::size_px(Point chart) const noexcept {
  const auto d = map.derivative(chart);
  return std::sqrt(std::abs(d[0] * d[3] - d[1] * d[2]));
}

Pose pose_of(const kernel::Homography& map, int width, int height, double view_deg) noexcept {
  const double cx = 0.5 * width, cy = 0.5 * height, f = cx / std::tan(0.5 * view_deg * kDegree);
  std::array<std::array<double, 3>, 3>
      m{};  // columns: the chart's axes and its middle, in the camera's frame
  for (std::size_t j = 0; j < 3; ++j) {
    const double w = map.h[6 + j];
    m[j] = {(map.h[j] - cx * w) / f, (map.h[3 + j] - cy * w) / f, w};
  }
  const auto size = [](const std::array<double, 3>& v) { return std::hypot(v[0], v[1], v[2]); };
  const double unit = 0.5 * (size(m[0]) + size(m[1]));
  Pose p;
  p.scale = f * unit / (m[2][2] * height);
  const double pitch = std::asin(std::clamp(m[1][2] / unit, -1.0, 1.0));
  const double yaw = std::asin(std::clamp(m[0][2] / (unit * std::cos(pitch)), -1.0, 1.0));
  double roll = std::atan2(-m[1][0], m[1][1]) / kDegree;
  p.upside_down = std::abs(roll) > 90;
  if (p.upside_down) roll += roll > 0 ? -180 : 180;
  const double sign = p.upside_down ? -1 : 1;
  p.yaw_deg = sign * yaw / kDegree, p.pitch_deg = sign * pitch / kDegree, p.roll_deg = roll;
  return p;
}

std::optional<Held> outline(const Plane& light, const Chart& chart, const Rough& rough, double view_deg) {
  const auto guess = by_middles(light, chart, rough);
  if (!guess) return std::nullopt;
  Held held;
  std::vector<Point> from, to;
  for (std::size_t k = 0; k < 5; ++k) {
    const auto printed = corners(chart, k);
    std::array<Point, 4> seen;
    for (std::size_t j = 0; j < 4; ++j) seen[j] = guess->at(printed[j]);
    const auto exact = outlined(light, seen);
    if (!exact) return std::nullopt;
    held.corner[k] = *exact;
    from.insert(from.end(), printed.begin(), printed.end());
    to.insert(to.end(), exact->begin(), exact->end());
  }
  const auto fitted = kernel::fit_homography(from, to);
  if (!fitted) return std::nullopt;
  held.map = fitted->map;
  held.rms_px = fitted->rms;
  if (!(held.rms_px < kFarRms * chart.side * held.size_px({0, 0}))) return std::nullopt;
  held.pose = pose_of(held.map, light.width, light.height, view_deg);
  return held;
}
}  // namespace hb::checks::camera
