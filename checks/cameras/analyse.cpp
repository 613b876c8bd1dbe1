#include <algorithm>
#include <cmath>
#include <numbers>

#include "checks/cameras/cameras.hpp"
#include "checks/kernel/lab.hpp"
#include "checks/kernel/srgb.hpp"
#include "locate.hpp"

namespace hb::checks {
namespace {
using Complex = std::complex<double>;
using Numbers = Cameras::FrameNumbers;
using Seen = Cameras::Seen;

/// Mean linear R, G, B in a square of side `side` about a pixel, clipped to the frame; and how much is
/// clipped.
struct Patch {
  double r = 0, g = 0, b = 0;
  double clipped = 0;
  double n = 0;
  [[nodiscard]] double light() const noexcept { return kernel::luminance(r, g, b); }
};
Patch patch(const Frame& f, Complex at, double side) {
  const auto& linear = kernel::srgb_table();
  const auto bound = [](double v, int size) { return std::clamp(static_cast<int>(std::lround(v)), 0, size); };
  const int x0 = bound(at.real() - side / 2, f.width), x1 = bound(at.real() + side / 2, f.width);
  const int y0 = bound(at.imag() - side / 2, f.height), y1 = bound(at.imag() + side / 2, f.height);
  Patch p;
  for (int y = y0; y < y1; ++y)
    for (int x = x0; x < x1; ++x) {
      const std::size_t i =
          3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(f.width) + static_cast<std::size_t>(x));
      const std::uint8_t r = f.rgb[i], g = f.rgb[i + 1], b = f.rgb[i + 2];
      p.r += linear[r], p.g += linear[g], p.b += linear[b];
      p.n += 1;
      if (std::max({r, g, b}) == 255) p.clipped += 1;
    }
  if (p.n > 0) p.r /= p.n, p.g /= p.n, p.b /= p.n, p.clipped /= p.n;
  return p;
}

/// A region about an edge's middle, or nullopt when the frame cuts it to less than 40 pixels across.
std::optional<kernel::Plane> region(const kernel::Plane& light, Complex at, double half_across,
                                    double half_along) {
  const double across = std::min({half_across, at.real(), light.width - at.real()});
  const double along = std::min({half_along, at.imag(), light.height - at.imag()});
  if (across < 20 || along < 15) return std::nullopt;
  const int x0 = static_cast<int>(std::ceil(at.real() - across)), x1 = static_cast<int>(at.real() + across);
  const int y0 = static_cast<int>(std::ceil(at.imag() - along)), y1 = static_cast<int>(at.imag() + along);
  kernel::Plane p{x1 - x0, y1 - y0, {}};
  for (int y = y0; y < y1; ++y)
    for (int x = x0; x < x1; ++x) p.values.push_back(light.at(x, y));
  return p;
}

/// Left and right edge of square `k`: the mean of what can be read.
void read_square(const kernel::Plane& light, const camera::Located& where, const Cameras::Chart& chart,
                 std::size_t k, Numbers& out) {
  const double half = 0.5 * chart.side * where.frame_h * where.scale();
  const double turn = std::arg(where.turn) - chart.angle_deg * std::numbers::pi / 180;  // y runs down
  double mtf = 0, u2 = 0, read = 0;
  std::vector<double> curve(Cameras::kCurvePoints, 0);
  for (const double side : {-1.0, 1.0}) {
    const auto roi = region(light, where.centre[k] + std::polar(side * half, turn), 0.72 * half, 0.65 * half);
    if (!roi) continue;
    const auto e = kernel::esfr(*roi);
    if (!e) continue;
    read += 1, mtf += e->mtf50_cpp, u2 += e->u_mtf50_cpp * e->u_mtf50_cpp;
    for (std::size_t i = 0; i < curve.size(); ++i)
      curve[i] += kernel::response_at(*e, static_cast<double>(i) / 64);
  }
  if (read == 0) return;
  for (double& v : curve) v /= read;
  out.mtf50_cpp[k] = mtf / read;
  out.u_mtf50_cpp[k] = std::sqrt(u2) / read;
  out.sfr[k] = std::move(curve);
}

/// Trap over the ground to its left and right; the chart may be upside down: the darker place is the trap.
double trap_ratio(const Frame& f, const camera::Located& where, const Cameras::Chart& c) {
  const double side = 0.5 * c.trap_side * where.frame_h * where.scale();
  const auto ratio = [&](double x, double y) {
    const double dx = 1.1 * c.trap_side * where.frame_h / where.frame_w;
    const double ground =
        (patch(f, where.at(x - dx, y), side).light() + patch(f, where.at(x + dx, y), side).light()) / 2;
    return ground > 0 ? patch(f, where.at(x, y), side).light() / ground : 1.0;
  };
  return std::min(ratio(c.trap_x, c.trap_y), ratio(1 - c.trap_x, 1 - c.trap_y));
}
}  // namespace

Numbers Cameras::analyse(const Frame& frame, const Chart& chart) {
  Numbers out;
  const bool whole =
      frame.width >= 64 && frame.height >= 64 && frame.width <= 20000 && frame.height <= 20000 &&
      frame.rgb.size() == 3 * static_cast<std::size_t>(frame.width) * static_cast<std::size_t>(frame.height);
  if (!whole) return out;
  const kernel::Plane light = camera::luminance(frame);
  const auto where = camera::locate(light, chart);
  if (!where) {
    double sum = 0;
    for (const float v : light.values) sum += v;
    if (sum / static_cast<double>(light.values.size()) < 0.05) out.seen = Seen::too_dark;
    return out;
  }
  out.scale = where->scale();
  const double side = 0.08 * frame.height * out.scale;
  Patch ground = patch(frame, where->at(0.33, 0.5), side);
  const Patch other = patch(frame, where->at(0.67, 0.5), side);
  ground = {(ground.r + other.r) / 2, (ground.g + other.g) / 2, (ground.b + other.b) / 2,
            (ground.clipped + other.clipped) / 2, ground.n + other.n};
  out.level = ground.light();
  out.clipped = ground.clipped;
  const auto lab = kernel::lab_of_linear_srgb(ground.r, ground.g, ground.b);
  out.lab = {lab.l, lab.a, lab.b};
  if (out.level < 0.10) return out.seen = Seen::too_dark, out;
  if (out.clipped > 0.02) return out.seen = Seen::too_bright, out;
  for (std::size_t i = 0; i < 4; ++i) {
    const double x = i % 2 == 0 ? 0.04 : 0.96, y = i < 2 ? 0.05 : 0.95;
    out.corner[i] = patch(frame, where->at(x, y), 0.5 * side).light() / out.level;
  }
  out.trap_ratio = trap_ratio(frame, *where, chart);
  for (std::size_t k = 0; k < 5; ++k) read_square(light, *where, chart, k, out);
  const auto unread = std::count(out.mtf50_cpp.begin(), out.mtf50_cpp.end(), 0.0);
  out.seen = unread == 0 ? Seen::measured : Seen::edges_unreadable;
  return out;
}
}  // namespace hb::checks
