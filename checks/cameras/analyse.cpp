#include <algorithm>
#include <cmath>

#include "checks/cameras/cameras.hpp"
#include "checks/kernel/lab.hpp"
#include "checks/kernel/summary.hpp"
#include "edges.hpp"
#include "ground.hpp"

namespace hb::checks {
namespace {
using Numbers = Cameras::FrameNumbers;
using Seen = Cameras::Seen;
constexpr double kBorder = 0.012;    // of the height: a tile nearer to the frame's border is cut off
constexpr double kMostSlope = 0.17;  // of the light across the chart: common practice, no source
constexpr double kMostSpot = 0.15, kMostTileSpread = 0.15, kMostVeilGap = 0.12;
constexpr double kMostUnlike = 1.25;      // edges up and down against edges across
constexpr double kExposure_s = 1.0 / 30;  // the longest that a preview frame is exposed

/// The worst of the aim first.
Seen aim(const camera::Held& held, int width, int height) {
  const auto& p = held.pose;
  if (std::abs(p.roll_deg) > Cameras::kMostTilt_deg) return Seen::rolled;
  if (std::max(std::abs(p.yaw_deg), std::abs(p.pitch_deg)) > Cameras::kMostTilt_deg) {
    if (std::abs(p.yaw_deg) >= std::abs(p.pitch_deg))
      return p.yaw_deg > 0 ? Seen::right_side_away : Seen::left_side_away;
    return p.pitch_deg > 0 ? Seen::lower_side_away : Seen::upper_side_away;
  }
  if (p.scale < Cameras::kLeastScale) return Seen::too_far;
  if (p.scale > Cameras::kMostScale) return Seen::too_near;
  const double room = kBorder * height;
  for (const auto& tile : held.corner)
    for (const auto& c : tile)
      if (c.x < room || c.y < room || c.x > width - room || c.y > height - room) return Seen::cut_off;
  return Seen::measured;
}

/// The camera's own MTF50 from what was measured on a print whose edges are themselves a little soft:
/// Gaussian variances add (kernel::kGaussianMtf50). On the sensor the camera's
/// blur has one size whatever the distance; the print's grows with the chart, which is all that distance
/// changes.
double without_print(double mtf50_cpp, double print_px) {
  const double sigma = kernel::kGaussianMtf50 / mtf50_cpp;
  const double own = std::sqrt(std::max(sigma * sigma - print_px * print_px, 0.25 * sigma * sigma));
  return mtf50_cpp * sigma / own;
}

void read_edges(const kernel::Plane& light, const camera::Held& held, const Cameras::Chart& chart,
                Numbers& out) {
  std::array<double, 5> read{}, u2{}, correction{};
  std::array<std::vector<double>, 5> curve;
  for (auto& c : curve) c.assign(Cameras::kCurvePoints, 0);
  for (const camera::Edge& edge : camera::usable_edges(held)) {
    const auto k = edge.tile;
    const auto roi = camera::region(light, held, edge);
    if (roi.values.empty()) continue;
    const auto e = kernel::esfr(roi);
    if (!e) continue;
    const double print_px = chart.print_blur * held.size_px(camera::position(chart, chart.x[k], chart.y[k]));
    const double own = without_print(e->mtf50_cpp, print_px);
    if (!edge.near_vertical) {
      out.mtf50_level_cpp[k] = own;
      continue;
    }
    read[k] += 1, u2[k] += e->u_mtf50_cpp * e->u_mtf50_cpp;
    out.mtf50_cpp[k] += own, correction[k] += own - e->mtf50_cpp;
    for (std::size_t i = 0; i < curve[k].size(); ++i)
      curve[k][i] += kernel::response_at(*e, static_cast<double>(i) / 64);
  }
  for (std::size_t k = 0; k < 5; ++k) {
    if (read[k] == 0) continue;
    for (double& v : curve[k]) v /= read[k];
    out.mtf50_cpp[k] /= read[k];
    out.u_mtf50_cpp[k] =
        std::hypot(std::sqrt(u2[k]), 0.5 * correction[k]) / read[k];  // half of it: our choice
    out.sfr[k] = std::move(curve[k]);
  }
}

/// Movement while the frame was exposed softens the edges that it crosses, in all tiles alike.
bool softer_one_way(const Numbers& n) {
  std::vector<double> up_over_across;
  for (std::size_t k = 0; k < 5; ++k)
    if (n.mtf50_cpp[k] > 0 && n.mtf50_level_cpp[k] > 0)
      up_over_across.push_back(n.mtf50_cpp[k] / n.mtf50_level_cpp[k]);
  if (up_over_across.size() < 5) return false;
  const double centre = up_over_across.front(), middle = kernel::median(up_over_across);
  return std::min(centre, middle) > kMostUnlike || std::max(centre, middle) < 1 / kMostUnlike;
}

/// Veil over ground light by a place of reflectance `t`; see measure().
double veil(double seen, double t) {
  const double q = std::min(seen, 0.999);
  return (q - t) / (1 - q);
}

Seen light_seen(const camera::Ground& g, const Cameras::Chart& chart) {
  if (g.level < 0.10) return Seen::too_dark;
  if (g.clipped > 0.02) return Seen::too_bright;
  const double gap =
      veil(g.trap_ratio, chart.trap / chart.ground) - veil(g.tile_ratio, chart.tile / chart.ground);
  if (g.spot > kMostSpot || g.tile_spread > kMostTileSpread || gap > kMostVeilGap) return Seen::reflection;
  if (g.slope > kMostSlope) return Seen::uneven_light;
  return Seen::measured;
}
}  // namespace

Numbers Cameras::analyse(const Frame& frame, const Chart& chart, double view_deg) {
  Numbers out;
  out.t_ms = frame.t_ms;
  if (!camera::is_whole(frame)) return out;
  const kernel::Plane light = camera::luminance(frame);
  const auto found = camera::locate(light, chart);
  if (!found.chart) {
    double sum = 0;
    for (const float v : light.values) sum += static_cast<double>(v);
    if (sum / static_cast<double>(light.values.size()) < 0.05)
      out.seen = Seen::too_dark;
    else if (found.cut_off)
      out.seen = Seen::cut_off;
    return out;
  }
  out.seen = Seen::edges_unreadable;
  const auto held = camera::outline(light, chart, *found.chart, view_deg);
  if (!held) return out;
  const auto middle = held->map.at({0, 0});
  out.scale = held->pose.scale, out.x_px = middle.x, out.y_px = middle.y;
  out.yaw_deg = held->pose.yaw_deg, out.pitch_deg = held->pose.pitch_deg, out.roll_deg = held->pose.roll_deg;
  if (const Seen s = aim(*held, frame.width, frame.height); s != Seen::measured) return out.seen = s, out;
  const auto ground = camera::ground_of(frame, chart, *held);
  if (!ground) return out.seen = Seen::cut_off, out;
  out.level = ground->level, out.clipped = ground->clipped;
  const auto lab = kernel::lab_of_linear_srgb(ground->r, ground->g, ground->b);
  out.lab = {lab.l, lab.a, lab.b};
  out.corner = ground->corner, out.trap_ratio = ground->trap_ratio;
  if (const Seen s = light_seen(*ground, chart); s != Seen::measured) return out.seen = s, out;
  read_edges(light, *held, chart, out);
  if (std::count(out.mtf50_cpp.begin(), out.mtf50_cpp.end(), 0.0) > 0) return out;
  if (softer_one_way(out)) return out.seen = Seen::moved, out;
  out.seen = Seen::measured;
  out.pixels = {camera::SpotSearch(frame).all(), held->map};
  return out;
}

void Cameras::mark_moved(std::vector<FrameNumbers>& frames) {
  if (frames.empty() ||
      !std::all_of(frames.begin(), frames.end(), [](const auto& f) { return f.seen == Seen::measured; }))
    return;
  bool moved = false;
  for (std::size_t i = 1; i < frames.size(); ++i) {
    const auto &a = frames[i - 1], &b = frames[i];
    const double s = std::max((b.t_ms - a.t_ms) * 1e-3, kExposure_s);
    moved = moved || std::hypot(b.x_px - a.x_px, b.y_px - a.y_px) / s * kExposure_s > 1;
  }
  const auto [soft, sharp] =
      std::minmax_element(frames.begin(), frames.end(),
                          [](const auto& a, const auto& b) { return a.mtf50_cpp[0] < b.mtf50_cpp[0]; });
  moved = moved || soft->mtf50_cpp[0] < 0.85 * sharp->mtf50_cpp[0];
  if (moved)
    for (auto& f : frames) f.seen = Seen::moved;
}
}  // namespace hb::checks
