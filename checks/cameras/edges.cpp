#include "edges.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace hb::checks::camera {
namespace {
constexpr double kDegree = std::numbers::pi / 180;
constexpr double kBest_deg = 7;  // far from 0, where lines repeat, and from 14, where bins begin to be missed

struct Line {
  kernel::Point from, to;
  double length = 0;
};
Line side_of(const Held& held, std::size_t tile, std::size_t side) {
  const auto& c = held.corner[tile];
  const Line l{c[side], c[(side + 1) % 4], 0};
  return {l.from, l.to, std::hypot(l.to.x - l.from.x, l.to.y - l.from.y)};
}

Edge edge_of(const Held& held, std::size_t tile, std::size_t side) {
  const Line l = side_of(held, tile, side);
  const double dx = l.to.x - l.from.x, dy = l.to.y - l.from.y;
  Edge e{tile, side, std::abs(dy) > std::abs(dx), 0};
  e.slant_deg = (e.near_vertical ? std::atan(dx / dy) : std::atan(dy / dx)) / kDegree;
  return e;
}
bool usable(const Edge& e) {
  return std::abs(e.slant_deg) >= kLeastSlant_deg && std::abs(e.slant_deg) <= kMostSlant_deg;
}
double badness(const Edge& e) { return std::abs(std::abs(e.slant_deg) - kBest_deg); }
}  // namespace

std::vector<Edge> usable_edges(const Held& held) {
  std::vector<Edge> out;
  for (std::size_t tile = 0; tile < 5; ++tile) {
    std::vector<Edge> level;
    for (std::size_t side = 0; side < 4; ++side) {
      const Edge e = edge_of(held, tile, side);
      if (!usable(e)) continue;
      if (e.near_vertical)
        out.push_back(e);
      else
        level.push_back(e);
    }
    const auto best = std::min_element(level.begin(), level.end(),
                                       [](const Edge& a, const Edge& b) { return badness(a) < badness(b); });
    if (best != level.end()) out.push_back(*best);
  }
  return out;
}

kernel::Plane region(const kernel::Plane& light, const Held& held, const Edge& e) {
  const Line l = side_of(held, e.tile, e.side);
  const Line opposite = side_of(held, e.tile, (e.side + 2) % 4);
  const Line next = side_of(held, e.tile, (e.side + 1) % 4), last = side_of(held, e.tile, (e.side + 3) % 4);
  const double across_tile = 0.5 * (next.length + last.length);
  const double across = 0.36 * across_tile;
  const double s = std::abs(std::sin(e.slant_deg * kDegree)), c = std::cos(e.slant_deg * kDegree);
  // A corner of the region is (along c + across s) from the edge's middle, measured along the edge: clear of
  // the neighbouring sides, which start where the edge ends.
  const double half = 0.46 * std::min(l.length, 0.5 * (l.length + opposite.length));
  const double along = std::min(0.325 * across_tile, (half - across * s) / c);
  const double mx = 0.5 * (l.from.x + l.to.x), my = 0.5 * (l.from.y + l.to.y);
  const double hx = e.near_vertical ? across : along, hy = e.near_vertical ? along : across;
  const double rx = std::min({hx, mx, light.width - mx}), ry = std::min({hy, my, light.height - my});
  const int x0 = static_cast<int>(std::ceil(mx - rx)), x1 = static_cast<int>(mx + rx);
  const int y0 = static_cast<int>(std::ceil(my - ry)), y1 = static_cast<int>(my + ry);
  kernel::Plane p;
  if (x1 - x0 < 20 || y1 - y0 < 20) return p;
  p.width = x1 - x0, p.height = y1 - y0;
  p.values.reserve(static_cast<std::size_t>(p.width) * static_cast<std::size_t>(p.height));
  for (int y = y0; y < y1; ++y) {
    const float* row =
        light.values.data() + static_cast<std::size_t>(y) * static_cast<std::size_t>(light.width);
    p.values.insert(p.values.end(), row + x0, row + x1);
  }
  return p;
}
}  // namespace hb::checks::camera
