#include "drawn_chart.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace hb::checks::testing {
namespace {
constexpr double kDegree = std::numbers::pi / 180;
double normal(double z) { return z > 6 ? 1 : z < -6 ? 0 : 0.5 * std::erfc(-z * std::numbers::sqrt2 / 2); }

const std::vector<std::uint8_t>& code_table() {  // IEC 61966-2-1
  static const std::vector<std::uint8_t> all = [] {
    std::vector<std::uint8_t> table;
    for (int i = 0; i <= 16384; ++i) {
      const double l = i / 16384.0;
      const double c = l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1 / 2.4) - 0.055;
      table.push_back(static_cast<std::uint8_t>(std::lround(255 * c)));
    }
    return table;
  }();
  return all;
}

std::uint64_t mixed(std::uint64_t z) {
  z += 0x9e3779b97f4a7c15ull;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  return z ^ (z >> 31);
}

/// Nearly normal noise of unit variance: sums of four 16-bit uniforms, from a table that is read from a
/// random place in every row.
const std::vector<float>& noise_table() {
  static const std::vector<float> all = [] {
    std::vector<float> t;
    for (std::uint64_t i = 0; i < (1u << 18); ++i) {
      const auto z = mixed(i);
      const auto sum = (z & 0xffff) + (z >> 16 & 0xffff) + (z >> 32 & 0xffff) + (z >> 48);
      t.push_back(static_cast<float>((static_cast<double>(sum) / 65535 - 2) * std::numbers::sqrt3));
    }
    return t;
  }();
  return all;
}

struct P {
  double x, y;
};
/// Frame pixel to chart position (chart heights from its middle): the ray meets the turned plane.
class Eye {
 public:
  explicit Eye(const Drawn& d)
      : cx_(0.5 * d.width),
        cy_(0.5 * d.height),
        f_(cx_ / std::tan(d.view_deg / 2 * kDegree)),
        k_(d.distortion) {
    const double roll = d.roll_deg * kDegree + (d.upside_down ? std::numbers::pi : 0);
    const double s = d.scale * d.height;
    u_ = turned(s, 0, d, roll), v_ = turned(0, s, d, roll);
    t_ = {d.shift_x, d.shift_y, f_};
    n_ = cross(u_, v_);
  }
  P chart(P px) const {
    double x = px.x - cx_, y = px.y - cy_;
    const double m = 1 + k_ * (x * x + y * y) / (cx_ * cx_ + cy_ * cy_);
    x *= m, y *= m;
    const V ray{x, y, f_};
    const double t = dot(n_, t_) / dot(n_, ray);
    const V at{ray[0] * t - t_[0], ray[1] * t - t_[1], ray[2] * t - t_[2]};
    return {dot(at, u_) / dot(u_, u_), dot(at, v_) / dot(v_, v_)};
  }
  P pixel(P c) const {  // without the lens's distortion: for bounding boxes
    const double x = c.x * u_[0] + c.y * v_[0] + t_[0], y = c.x * u_[1] + c.y * v_[1] + t_[1];
    const double z = c.x * u_[2] + c.y * v_[2] + t_[2];
    return {cx_ + f_ * x / z, cy_ + f_ * y / z};
  }

 private:
  using V = std::array<double, 3>;
  static double dot(const V& a, const V& b) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }
  static V cross(const V& a, const V& b) {
    return {a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
  }
  static V turned(double x, double y, const Drawn& d, double roll) {
    const double yaw = d.yaw_deg * kDegree, pitch = d.pitch_deg * kDegree;
    const double x1 = x * std::cos(yaw), z1 = x * std::sin(yaw);
    const double y2 = y * std::cos(pitch) - z1 * std::sin(pitch),
                 z2 = y * std::sin(pitch) + z1 * std::cos(pitch);
    return {x1 * std::cos(roll) - y2 * std::sin(roll), x1 * std::sin(roll) + y2 * std::cos(roll), z2};
  }
  double cx_, cy_, f_, k_;
  V u_{}, v_{}, t_{}, n_{};
};

/// Four half planes a x + b y + c > 0 of the chart, unit normals.
using Outline = std::array<std::array<double, 3>, 4>;
Outline tile(double cx, double cy, double side, double lean_deg) {
  const double c = std::cos(lean_deg * kDegree), s = std::sin(lean_deg * kDegree), h = side / 2;
  Outline o{{{s, c, h * c}, {-c, s, h * c}, {s, -c, h * c}, {c, s, h * c}}};  // top, right, bottom, left
  for (auto& l : o) l[2] -= l[0] * cx + l[1] * cy;
  return o;
}

/// Share of light that an outline takes at a pixel.
double covered(const Drawn& d, const Eye& eye, const Outline& o, P p) {
  const P c = eye.chart(p);
  const P px = eye.chart({p.x + 0.5, p.y}), mx = eye.chart({p.x - 0.5, p.y});
  const P py = eye.chart({p.x, p.y + 0.5}), my = eye.chart({p.x, p.y - 0.5});
  const double sigma = d.sigma_px + d.sigma_right_px * p.x / d.width;
  const double print = d.print_blur * d.height * d.scale;
  double inside = 1;
  for (const auto& l : o) {
    const double gx = l[0] * (px.x - mx.x) + l[1] * (px.y - mx.y),
                 gy = l[0] * (py.x - my.x) + l[1] * (py.y - my.y);
    const double g = std::hypot(gx, gy), dist = (l[0] * c.x + l[1] * c.y + l[2]) / g;
    const double along = (gx * std::cos(d.shake_deg * kDegree) + gy * std::sin(d.shake_deg * kDegree)) / g;
    const double shake = d.shake_px * along;
    inside *= normal(dist / std::sqrt(sigma * sigma + print * print + shake * shake / 12));
    if (inside == 0) break;
  }
  return inside;
}

void lay(const Drawn& d, const Eye& eye, const Outline& o, P middle, double half, double depth,
         std::vector<float>& light) {
  double x0 = 1e9, x1 = -1e9, y0 = 1e9, y1 = -1e9;
  for (const double sx : {-1.25, 1.25})
    for (const double sy : {-1.25, 1.25}) {
      const P p = eye.pixel({middle.x + sx * half, middle.y + sy * half});
      x0 = std::min(x0, p.x), x1 = std::max(x1, p.x), y0 = std::min(y0, p.y), y1 = std::max(y1, p.y);
    }
  const double more = 22 + std::abs(d.distortion) * d.width;
  const int xa = std::max(0, static_cast<int>(x0 - more)),
            xb = std::min(d.width, static_cast<int>(x1 + more));
  const int ya = std::max(0, static_cast<int>(y0 - more)),
            yb = std::min(d.height, static_cast<int>(y1 + more));
  for (int y = ya; y < yb; ++y)
    for (int x = xa; x < xb; ++x)
      light[static_cast<std::size_t>(y) * static_cast<std::size_t>(d.width) + static_cast<std::size_t>(x)] -=
          static_cast<float>(depth * covered(d, eye, o, {x + 0.5, y + 0.5}));
}

std::vector<float> scene(const Drawn& d) {
  const Cameras::Chart chart;
  const auto n = static_cast<std::size_t>(d.width) * static_cast<std::size_t>(d.height);
  std::vector<float> light(n, static_cast<float>(chart.ground));
  if (!d.chart) return light;
  const Eye eye(d);
  std::size_t i = 0;
  for (int y = 0; y < d.height; ++y)
    for (int x = 0; x < d.width; ++x, ++i) {
      const P c = eye.chart({x + 0.5, y + 0.5});
      const double out = std::max(std::abs(c.x) - 0.5 * chart.aspect, std::abs(c.y) - 0.5) - 0.04;
      if (out > -0.002) light[i] = static_cast<float>(out > 0.002 ? d.wall : 0.5 * (d.wall + chart.ground));
    }
  for (std::size_t k = 0; k < 5; ++k) {
    const P m{(chart.x[k] - 0.5) * chart.aspect, chart.y[k] - 0.5};
    lay(d, eye, tile(m.x, m.y, chart.side, chart.lean_deg), m, chart.side / 2, chart.ground - 0.18, light);
  }
  const P m{(chart.trap_x - 0.5) * chart.aspect, chart.trap_y - 0.5};
  lay(d, eye, tile(m.x, m.y, chart.trap_side, 0), m, chart.trap_side / 2, chart.ground - chart.trap, light);
  return light;
}
}  // namespace

double room_px(const Drawn& d) {
  const Cameras::Chart chart;
  const Eye eye(d);
  double room = 1e9;
  for (std::size_t k = 0; k < 5; ++k)
    for (const auto& c : camera::corners(chart, k)) {
      P p = eye.pixel({c.x, c.y});
      const double cx = 0.5 * d.width, cy = 0.5 * d.height;
      const P straight = p;
      for (int pass = 0; pass < 10; ++pass) {  // the place whose undistorted one this is
        const double r2 = ((p.x - cx) * (p.x - cx) + (p.y - cy) * (p.y - cy)) / (cx * cx + cy * cy);
        const double m = 1 + d.distortion * r2;
        p = {cx + (straight.x - cx) / m, cy + (straight.y - cy) / m};
      }
      room = std::min({room, p.x, p.y, d.width - p.x, d.height - p.y});
    }
  return room;
}

Frame draw(const Drawn& d) {
  const Cameras::Chart chart;
  const auto& code = code_table();
  const auto& noise = noise_table();
  const auto light_of = scene(d);
  const double w = d.width, h = d.height;
  Frame f;
  f.width = d.width, f.height = d.height;
  f.rgb.resize(3 * light_of.size());
  std::size_t i = 0;
  for (int y = 0; y < d.height; ++y) {
    std::size_t at = mixed(mixed(d.seed) + static_cast<std::uint64_t>(y)) % noise.size();
    for (int x = 0; x < d.width; ++x, ++i) {
      const double qx = 2 * (x + 0.5) / w - 1, qy = 2 * (y + 0.5) / h - 1;
      double shade = 1 - d.shading * (qx * qx + qy * qy) / 2;
      const double nearness = (1 - qx) * (1 - qy) / 4;  // 1 in the top left corner
      shade *= (1 - d.corner_dark * nearness * nearness) * (1 + d.slope * qx / 2);
      double light = static_cast<double>(light_of[i]) * shade;
      if (d.reflection > 0) {
        const double rx = (x - d.reflection_x * w) / (0.05 * h), ry = (y - d.reflection_y * h) / (0.05 * h);
        light += d.reflection * chart.ground * std::exp(-(rx * rx + ry * ry) / 2);
      }
      light = (light + d.veil * chart.ground) / (chart.ground * (1 + d.veil)) * d.exposure;
      for (std::size_t c = 0; c < 3; ++c) {
        const double gain = c == 0 ? d.red : c == 2 ? d.blue : 1;
        at = at + 1 == noise.size() ? 0 : at + 1;
        const double v = light * gain + d.noise_sd * static_cast<double>(noise[at]);
        f.rgb[3 * i + c] = code[static_cast<std::size_t>(std::clamp(v, 0.0, 1.0) * 16384 + 0.5)];
      }
    }
  }
  return f;
}
}  // namespace hb::checks::testing
