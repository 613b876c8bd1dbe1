#include "ground.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

#include "checks/kernel/srgb.hpp"

namespace hb::checks::camera {
namespace {
using kernel::Point;
constexpr int kCols = 13, kRows = 9;  // of the grid of ground samples
constexpr double kPatch = 0.045;      // their side, chart heights
constexpr double kLeastEven = 0.98;   // share of the unevenness that a slope explains
/// Where the ground of the chart's corners is read: outside the tiles, or, when the chart is as large as the
/// frame, beside them.
constexpr std::array<std::array<double, 2>, 3> kCorners{{{0.04, 0.05}, {0.28, 0.09}, {0.28, 0.17}}};

struct Patch {
  double r = 0, g = 0, b = 0;
  double clipped = 0, n = 0;
  [[nodiscard]] double light() const noexcept { return kernel::luminance(r, g, b); }
};
/// Mean linear R, G, B in a square of pixels; n is 0 when it is not wholly in the frame.
Patch patch(const Frame& f, Point at, double side) {
  const auto& linear = kernel::srgb_table();
  Patch p;
  if (!(at.x - side / 2 >= 0 && at.y - side / 2 >= 0 && at.x + side / 2 <= f.width &&
        at.y + side / 2 <= f.height))
    return p;
  const int x0 = static_cast<int>(at.x - side / 2), y0 = static_cast<int>(at.y - side / 2);
  const int n = std::max(1, static_cast<int>(side));
  for (int y = y0; y < std::min(y0 + n, f.height); ++y) {
    const std::uint8_t* c =
        f.rgb.data() +
        3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(f.width) + static_cast<std::size_t>(x0));
    for (int x = x0; x < std::min(x0 + n, f.width); ++x, c += 3) {
      p.r += linear[c[0]], p.g += linear[c[1]], p.b += linear[c[2]];
      p.n += 1;
      if (std::max({c[0], c[1], c[2]}) == 255) p.clipped += 1;
    }
  }
  if (p.n > 0) p.r /= p.n, p.g /= p.n, p.b /= p.n, p.clipped /= p.n;
  return p;
}

/// A square of `side` chart heights about a chart position.
Patch patch(const Frame& f, const Held& held, Point chart, double side) {
  return patch(f, held.map.at(chart), side * held.size_px(chart));
}

bool on_plain_ground(const Chart& c, Point p) {
  const double room = 0.62 * kPatch;
  for (std::size_t k = 0; k < 5; ++k) {
    const Point t = position(c, c.x[k], c.y[k]);
    if (std::max(std::abs(p.x - t.x), std::abs(p.y - t.y)) < 0.62 * c.side + room) return false;
  }
  const Point t = position(c, c.trap_x, c.trap_y);
  return std::max(std::abs(p.x - t.x), std::abs(p.y - t.y)) >= 0.6 * c.trap_side + room;
}

struct Sample {
  Point chart, frame;  // frame: from its middle, over half the diagonal
  double light = 0;
};
struct Samples {
  std::vector<Sample> all;
  double clipped = 0;
};
Samples sampled(const Frame& f, const Chart& c, const Held& held) {
  Samples out;
  const double half = 0.5 * std::hypot(f.width, f.height);
  for (int j = 0; j < kRows; ++j)
    for (int i = 0; i < kCols; ++i) {
      const Point at = position(c, 0.04 + 0.92 * i / (kCols - 1), 0.05 + 0.90 * j / (kRows - 1));
      if (!on_plain_ground(c, at)) continue;
      const Patch p = patch(f, held, at, kPatch);
      if (p.n == 0) continue;
      const Point px = held.map.at(at);
      out.all.push_back({at, {(px.x - 0.5 * f.width) / half, (px.y - 0.5 * f.height) / half}, p.light()});
      out.clipped += p.clipped;
    }
  if (!out.all.empty()) out.clipped /= static_cast<double>(out.all.size());
  return out;
}

/// light = a + b x + c y + d r^2: a slope across the chart and the lens's fall about the frame's middle.
struct Model {
  Eigen::Vector4d by = Eigen::Vector4d::Zero();
  double even = 0;  ///< share of what the fall leaves that the slope explains
  [[nodiscard]] double at(const Sample& s) const {
    return by(0) + by(1) * s.chart.x + by(2) * s.chart.y + by(3) * fall(s.frame);
  }
  [[nodiscard]] static double fall(Point frame) { return frame.x * frame.x + frame.y * frame.y; }
};
std::optional<Model> fitted(const std::vector<Sample>& all, double most) {
  std::vector<const Sample*> used;
  for (const Sample& s : all)
    if (s.light <= most) used.push_back(&s);
  if (used.size() < 12) return std::nullopt;
  Eigen::MatrixXd x(static_cast<Eigen::Index>(used.size()), 4);
  Eigen::VectorXd y(x.rows());
  for (Eigen::Index i = 0; i < x.rows(); ++i) {
    const Sample& s = *used[static_cast<std::size_t>(i)];
    x.row(i) << 1, s.chart.x, s.chart.y, Model::fall(s.frame);
    y(i) = s.light;
  }
  Model m;
  m.by = x.colPivHouseholderQr().solve(y);
  Eigen::MatrixXd round(x.rows(), 2);
  round << x.col(0), x.col(3);
  const Eigen::VectorXd rest = y - round * round.colPivHouseholderQr().solve(y);
  const double left = (y - x * m.by).squaredNorm(), before = rest.squaredNorm();
  m.even = before > 0 ? 1 - left / before : 0;
  if (!m.by.allFinite() || !(m.by(0) > 0)) return std::nullopt;
  return m;
}

double ratio_beside(const Frame& f, const Held& held, Point at, double side, double away) {
  double ground = 0, n = 0;
  for (const double sign : {-1.0, 1.0}) {
    const Patch p = patch(f, held, {at.x + sign * away, at.y}, kPatch);
    if (p.n > 0) ground += p.light(), n += 1;
  }
  const Patch dark = patch(f, held, at, side);
  return n > 0 && dark.n > 0 && ground > 0 ? dark.light() * n / ground : 1.0;
}

void read_darks(const Frame& f, const Chart& c, const Held& held, Ground& out) {
  std::array<double, 5> tile{};
  for (std::size_t k = 0; k < 5; ++k)
    tile[k] = ratio_beside(f, held, position(c, c.x[k], c.y[k]), 0.4 * c.side, 0.72 * c.side);
  std::sort(tile.begin(), tile.end());
  out.tile_ratio = tile[2], out.tile_spread = tile[4] - tile[0];
  out.trap_ratio =
      ratio_beside(f, held, position(c, c.trap_x, c.trap_y), 0.5 * c.trap_side, 1.1 * c.trap_side);
}
}  // namespace

bool is_whole(const Frame& f) noexcept {
  return f.width >= 64 && f.height >= 64 && f.width <= 20000 && f.height <= 20000 &&
         f.rgb.size() == 3 * static_cast<std::size_t>(f.width) * static_cast<std::size_t>(f.height);
}

kernel::Plane luminance(const Frame& frame) {
  const auto& linear = kernel::srgb_table();
  std::array<std::array<float, 256>, 3> weighted;
  for (std::size_t c = 0; c < 256; ++c) {
    weighted[0][c] = static_cast<float>(kernel::luminance(linear[c], 0, 0));
    weighted[1][c] = static_cast<float>(kernel::luminance(0, linear[c], 0));
    weighted[2][c] = static_cast<float>(kernel::luminance(0, 0, linear[c]));
  }
  kernel::Plane p{frame.width, frame.height, {}};
  p.values.resize(frame.rgb.size() / 3);
  const std::uint8_t* c = frame.rgb.data();
  for (float& v : p.values) {
    v = weighted[0][c[0]] + weighted[1][c[1]] + weighted[2][c[2]];
    c += 3;
  }
  return p;
}

std::optional<Ground> ground_of(const Frame& f, const Chart& c, const Held& held) {
  const Patch left = patch(f, held, position(c, 0.33, 0.5), 0.08),
              right = patch(f, held, position(c, 0.67, 0.5), 0.08);
  if (left.n == 0 || right.n == 0) return std::nullopt;
  Ground out;
  out.r = (left.r + right.r) / 2, out.g = (left.g + right.g) / 2, out.b = (left.b + right.b) / 2;
  out.level = kernel::luminance(out.r, out.g, out.b);
  const Samples samples = sampled(f, c, held);
  out.clipped = std::max((left.clipped + right.clipped) / 2, samples.clipped);
  if (!(out.level > 0)) return std::nullopt;
  auto model = fitted(samples.all, 1e9);
  if (!model) return std::nullopt;
  double spot = 0;  // a bright spot pulls the model up: once more without it
  for (int pass = 0; pass < 2; ++pass) {
    double over = 0, most = 0;
    for (const Sample& s : samples.all)
      if (s.light / model->at(s) - 1 > over) over = s.light / model->at(s) - 1, most = s.light;
    spot = over;
    if (pass == 0 && over > 0.05)
      if (const auto again = fitted(samples.all, 0.97 * most)) model = again;
  }
  out.spot = spot;
  const double across = std::abs(model->by(1)) * c.aspect + std::abs(model->by(2));
  out.slope = model->even > kLeastEven ? across / out.level : 0;
  const double half = 0.5 * std::hypot(f.width, f.height);
  const auto fall = [&](Point chart) {
    const Point p = held.map.at(chart);
    return Model::fall({(p.x - 0.5 * f.width) / half, (p.y - 0.5 * f.height) / half});
  };
  const double reference = fall({0, 0});
  for (const auto& [dx, dy] : kCorners) {
    double seen = 0;
    for (std::size_t i = 0; i < 4; ++i) {
      const Point at = position(c, i % 2 == 0 ? dx : 1 - dx, i < 2 ? dy : 1 - dy);
      const Patch p = patch(f, held, at, kPatch);
      seen += p.n > 0 ? 1 : 0;
      out.corner[i] = (p.light() - model->by(3) * (fall(at) - reference)) / out.level;
    }
    if (seen == 4) break;
    if (&dx == &kCorners.back()[0]) return std::nullopt;
  }
  read_darks(f, c, held, out);
  return out;
}
}  // namespace hb::checks::camera
