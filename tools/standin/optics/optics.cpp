#include "tools/standin/optics/optics.hpp"

#include <algorithm>
#include <boost/math/special_functions/erf.hpp>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace hb::standin {
namespace {
constexpr double kBackground = 0.72, kDark = 0.18, kTrap = 0.02, kWall = 0.40;
constexpr double kAspect = 4.0 / 3, kMargin = 0.04, kSpotSd = 0.05;

using Corners = std::array<Spot, 4>;  // clockwise from the top left, chart heights from the middle
struct Tile {
  double x, y, side, lean_deg, reflectance;  // place and side as fractions of width, height, height
};
constexpr std::array<Tile, 6> kChart{{{0.50, 0.50, 0.16, 7, kDark},
                                      {0.15, 0.17, 0.16, 7, kDark},
                                      {0.85, 0.17, 0.16, 7, kDark},
                                      {0.15, 0.83, 0.16, 7, kDark},
                                      {0.85, 0.83, 0.16, 7, kDark},
                                      {0.50, 0.17, 0.10, 0, kTrap}}};

// Left side x = -h - t y, right x = h + t y, top y = -h - t x, bottom y = h + t x, where they meet.
Corners corners_of(const Tile& s) {
  const double h = 0.5 * s.side, t = std::tan(s.lean_deg * std::numbers::pi / 180);
  const double cx = (s.x - 0.5) * kAspect, cy = s.y - 0.5;
  const double near = h / (1 + t), in = h * (1 - t) / (1 + t * t), out = h * (1 + t) / (1 + t * t),
               far = h / (1 - t);
  return {Spot{cx - near, cy - near}, Spot{cx + in, cy - out}, Spot{cx + far, cy + far},
          Spot{cx - out, cy + in}};
}

// `focus_px`: what the focus adds in quadrature.
double focus_px(const Lens& lens) noexcept {
  return lens.focus.moves() ? lens.focus.blur_px(chart_dpt(lens)) : 0;
}
double sigma_px(const Lens& lens, double focus_px, double x, double y) noexcept {
  constexpr double pixel_sigma = 0.288675134594812882;  // sqrt(1/12): the pixel's own aperture
  const double w = lens.width, h = lens.height, dx = x - w / 2, dy = y - h / 2;
  const double r2 = (dx * dx + dy * dy) / (0.25 * (w * w + h * h));
  const double focused = std::max(pixel_sigma, lens.blur_px + lens.tilt_px * x / w + lens.corner_px * r2);
  return focus_px > 0 ? std::sqrt(focused * focused + focus_px * focus_px) : focused;
}

// A run of pixels of one row about its middle, which lies `d` from a side: all farther than `reach` inside
// it (1), all farther outside (-1), or neither (0). Distortion stretches distances by less than twice.
constexpr int kRun = 16;
int all_of_run(double d, double reach) noexcept { return d > reach + kRun ? 1 : d < -reach - kRun ? -1 : 0; }

double step(double z) noexcept { return z > 4 ? 1.0 : z < -4 ? 0.0 : 0.5 + 0.5 * std::erf(z); }

// Adds `depth` inside the outline, blurred. A blurred half plane is exactly a step of the distance to its
// side; near a corner the product of two steps is exact for a right angle only, which nothing looks at.
void draw(const Corners& corners, double depth, const Lens& lens, const View& view,
          std::vector<float>& scene) {
  std::array<std::array<double, 3>, 4> sides;
  std::array<double, 4> shake2;
  double left = lens.width, right = 0, top = lens.height, bottom = 0;
  for (std::size_t k = 0; k < 4; ++k) {
    sides[k] = view.line(corners[k], corners[(k + 1) % 4]);
    const double a = lens.shake_deg * std::numbers::pi / 180;
    const double along = sides[k][0] * std::cos(a) + sides[k][1] * std::sin(a);
    shake2[k] = lens.shake_px * lens.shake_px / 12 * along * along;  // variance of a uniform movement
    const Spot p = view.seen(corners[k]);
    left = std::min(left, p[0]), right = std::max(right, p[0]);
    top = std::min(top, p[1]), bottom = std::max(bottom, p[1]);
  }
  const double defocus = focus_px(lens);
  double widest = 0;
  for (const double x : {left, right})
    for (const double y : {top, bottom}) widest = std::max(widest, sigma_px(lens, defocus, x, y));
  const double reach = 6 * widest + lens.shake_px + (view.distorts() ? 0.02 * lens.height : 0) + 1;
  const int x0 = std::max(0, static_cast<int>(left - reach)),
            x1 = std::min(lens.width, static_cast<int>(right + reach) + 1);
  const int y0 = std::max(0, static_cast<int>(top - reach)),
            y1 = std::min(lens.height, static_cast<int>(bottom + reach) + 1);
  const auto inside = [&](Spot p) {
    const Spot u = view.undistorted(p);
    double sigma = -1, share = 1;
    for (std::size_t k = 0; k < 4; ++k) {
      const auto& s = sides[k];
      double d = s[0] * u[0] + s[1] * u[1] + s[2];
      if (d > reach) continue;
      if (d < -reach) return 0.0;
      if (sigma < 0) sigma = sigma_px(lens, defocus, p[0], p[1]);
      if (view.distorts()) d /= view.stretch(p, {s[0], s[1]});
      share *= step(d / std::sqrt(2 * (sigma * sigma + shake2[k])));
      if (share == 0) return 0.0;
    }
    return share;
  };
  for (int y = y0; y < y1; ++y) {
    float* row = scene.data() + static_cast<std::size_t>(y) * lens.width;
    for (int from = x0; from < x1; from += kRun) {
      const int to = std::min(x1, from + kRun);
      const Spot middle = view.undistorted({0.5 * (from + to), y + 0.5});
      int run = 1;
      for (const auto& s : sides)
        run = std::min(run, all_of_run(s[0] * middle[0] + s[1] * middle[1] + s[2], reach));
      if (run < 0) continue;
      if (run > 0)
        for (int x = from; x < to; ++x) row[x] += static_cast<float>(depth);
      else
        for (int x = from; x < to; ++x) row[x] += static_cast<float>(depth * inside({x + 0.5, y + 0.5}));
    }
  }
}

constexpr std::size_t kNormalBits = 12, kCodeSteps = 16384;

// Standard normal quantiles at the middles of 4096 equal probabilities, scaled to unit variance: one table
// look-up a sample.
std::vector<float> make_normal_table() {
  const std::size_t n = std::size_t{1} << kNormalBits;
  std::vector<double> q(n);
  double sum2 = 0;
  for (std::size_t i = 0; i < n; ++i) {
    q[i] = -std::numbers::sqrt2 *
           boost::math::erfc_inv(2.0 * (static_cast<double>(i) + 0.5) / static_cast<double>(n));
    sum2 += q[i] * q[i];
  }
  std::vector<float> table(n);
  for (std::size_t i = 0; i < n; ++i)
    table[i] = static_cast<float>(q[i] / std::sqrt(sum2 / static_cast<double>(n)));
  return table;
}

// sRGB encoding, IEC 61966-2-1.
std::vector<std::uint8_t> make_code_table() {
  std::vector<std::uint8_t> table(kCodeSteps + 1);
  for (std::size_t i = 0; i <= kCodeSteps; ++i) {
    const double v = static_cast<double>(i) / kCodeSteps;
    const double e = v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055;
    table[i] = static_cast<std::uint8_t>(std::lround(255 * e));
  }
  return table;
}

// And back.
double decoded(std::uint8_t c) {
  const double e = c / 255.0;
  return e <= 0.04045 ? e / 12.92 : std::pow((e + 0.055) / 1.055, 2.4);
}

// SplitMix64 as a counter-based source: the value depends on the counter alone.
std::uint64_t mix(std::uint64_t z) noexcept {
  z += 0x9e3779b97f4a7c15ull;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  return z ^ (z >> 31);
}

// How far frame `frame` wandered, in frame heights.
Spot wandered(const Lens& lens, std::uint64_t frame) {
  const auto one = [&](std::uint64_t axis) {
    const double u = static_cast<double>(mix(mix(lens.seed ^ 0x77) ^ mix(2 * frame + axis)) >> 11) * 0x1p-53;
    return (2 * u - 1) * lens.tremor_px / lens.height;
  };
  return {one(0), one(1)};
}

std::vector<float> scene_light(const Lens& lens, std::uint64_t frame) {
  const auto n = static_cast<std::size_t>(lens.width) * static_cast<std::size_t>(lens.height);
  if (!lens.chart_in_view) return std::vector<float>(n, static_cast<float>(kBackground));
  Pose pose = lens.pose;
  const auto away = wandered(lens, frame);
  pose.shift_x += away[0], pose.shift_y += away[1];
  const View view(pose, lens.width, lens.height);
  const double w = 0.5 * kAspect + kMargin, h = 0.5 + kMargin;
  const Corners paper{Spot{-w, -h}, Spot{w, -h}, Spot{w, h}, Spot{-w, h}};
  const bool fills = pose.scale == 1 && pose.yaw_deg == 0 && pose.pitch_deg == 0 && pose.roll_deg == 0 &&
                     std::abs(pose.shift_x) < 0.03 && std::abs(pose.shift_y) < 0.03 &&
                     3 * lens.width == 4 * lens.height;
  std::vector<float> scene(n, static_cast<float>(fills ? kBackground : kWall));
  if (!fills) draw(paper, kBackground - kWall, lens, view, scene);
  for (const auto& tile : kChart) draw(corners_of(tile), tile.reflectance - kBackground, lens, view, scene);
  return scene;
}

void light_it(const Lens& lens, std::vector<float>& scene) {
  if (lens.light_slope == 0 && lens.reflection == 0) return;
  const double h = lens.height, sx = 0.62 * lens.width, sy = 0.42 * h, sd = kSpotSd * h;
  for (int y = 0; y < lens.height; ++y)
    for (int x = 0; x < lens.width; ++x) {
      float& v = scene[static_cast<std::size_t>(y) * lens.width + static_cast<std::size_t>(x)];
      v *= static_cast<float>(1 + lens.light_slope * ((x + 0.5) / lens.width - 0.5));
      const double r2 = ((x - sx) * (x - sx) + (y - sy) * (y - sy)) / (2 * sd * sd);
      if (lens.reflection > 0 && r2 < 12)
        v += static_cast<float>(lens.reflection * kBackground * std::exp(-r2));
    }
}

// Light lost towards the corners, then the veil (a share of the mean light that reaches the sensor, the same
// everywhere), then exposure, so that the background at the centre comes out at the wanted level.
void shade_and_expose(const Lens& lens, std::vector<float>& scene) {
  const double w = lens.width, h = lens.height, r2_scale = 1 / (0.25 * (w * w + h * h));
  double sum = 0;
  for (int y = 0; y < lens.height; ++y) {
    float* row = scene.data() + static_cast<std::size_t>(y) * lens.width;
    const double dy = y + 0.5 - h / 2;
    double row_sum = 0;
    for (int x = 0; x < lens.width; ++x) {
      const double dx = x + 0.5 - w / 2;
      row[x] *= static_cast<float>(1 - lens.shading * (dx * dx + dy * dy) * r2_scale);
      row_sum += row[x];
    }
    sum += row_sum;
  }
  const double veil = lens.haze * sum / (w * h);
  const double level = lens.chart_in_view ? lens.exposure : 0.25 * lens.exposure;
  const auto gain = static_cast<float>(level / (kBackground + veil)), lift = static_cast<float>(veil);
  for (auto& v : scene) v = (v + lift) * gain;
}

void read_out(const Lens& lens, std::uint64_t frame, const std::vector<float>& scene, Picture& out) {
  static const std::vector<float> normal = make_normal_table();
  static const std::vector<std::uint8_t> code = make_code_table();
  constexpr std::uint64_t mask = (1u << kNormalBits) - 1;
  const std::uint64_t base = mix(mix(lens.seed) ^ frame);
  const auto sd = static_cast<float>(lens.noise_sd);
  std::array<float, 3> gain{};
  for (std::size_t c = 0; c < 3; ++c) gain[c] = static_cast<float>(lens.white[c]);
  std::uint8_t* to = out.rgb.data();
  for (std::size_t i = 0; i < scene.size(); ++i) {
    std::uint64_t bits = mix(base + i);
    for (std::size_t c = 0; c < 3; ++c, bits >>= kNormalBits) {
      const float light = scene[i] * gain[c];
      const float v = light + sd * std::sqrt(0.1f + 0.9f * light) * normal[bits & mask];
      // Whole numbers are clamped without a branch, which would be a coin toss in the dark.
      const int step = static_cast<int>(v * kCodeSteps + 0.5f), last = static_cast<int>(kCodeSteps);
      const int least = step < 0 ? 0 : step;
      *to++ = code[static_cast<std::size_t>(least > last ? last : least)];
    }
  }
}
// What a stuck pixel does to the picture: its colour is true at its own place and interpolated from it at the
// neighbours that have another colour (bilinear: a half beside red and blue, a quarter across; a quarter
// beside green). What the pixel would have seen is taken out again in the same shares.
void stick(const Lens& lens, const StuckPixel& pixel, const std::vector<float>& scene, Picture& out) {
  static const std::vector<std::uint8_t> code = make_code_table();
  const int px = std::clamp(static_cast<int>(pixel.x * lens.width), 1, lens.width - 2),
            py = std::clamp(static_cast<int>(pixel.y * lens.height), 1, lens.height - 2);
  const bool green = (px + py) % 2 != 0;
  const std::size_t colour = green ? 1 : py % 2 == 0 ? 0 : 2;
  const auto at = [&](int x, int y) {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(lens.width) + static_cast<std::size_t>(x);
  };
  const double own = (pixel.bright ? 1.0 : 0.0) - static_cast<double>(scene[at(px, py)]) * lens.white[colour];
  for (int dy = -1; dy <= 1; ++dy)
    for (int dx = -1; dx <= 1; ++dx) {
      const int away = std::abs(dx) + std::abs(dy);
      const double share = away == 0 ? 1 : green ? (away == 1 ? 0.25 : 0) : (away == 1 ? 0.5 : 0.25);
      std::uint8_t& c = out.rgb[3 * at(px + dx, py + dy) + colour];
      const double light = decoded(c) + share * own;
      c = code[static_cast<std::size_t>(std::clamp(light, 0.0, 1.0) * kCodeSteps + 0.5)];
    }
}

// Light that comes through skin: even but for a slope towards the lamp, at the exposure's end.
std::vector<float> finger_light(const Lens& lens) {
  const auto w = static_cast<std::size_t>(lens.width), h = static_cast<std::size_t>(lens.height);
  std::vector<float> light(w * h);
  const double level = lens.lamp.leaks + (lens.lamp.on ? lens.lamp.shines : 0);
  for (std::size_t x = 0; x < w; ++x)
    light[x] = static_cast<float>(level * (0.85 + 0.3 * static_cast<double>(x) / static_cast<double>(w)));
  for (std::size_t y = 1; y < h; ++y)
    std::copy_n(light.begin(), w, light.begin() + static_cast<std::ptrdiff_t>(y * w));
  return light;
}
Lens under_finger(Lens lens) {
  lens.white = {1, 0.08, 0.04};
  lens.noise_sd *= 4;  // the gain is up
  return lens;
}
}  // namespace

double chart_dpt(const Lens& lens) noexcept {
  constexpr double chart_height_m = 0.255;
  const double f_px = 0.5 * lens.width / std::tan(0.5 * lens.pose.view_deg * std::numbers::pi / 180);
  return lens.pose.scale * lens.height / (f_px * chart_height_m);
}

double local_sigma_px(const Lens& lens, double x, double y) noexcept {
  return sigma_px(lens, focus_px(lens), x, y);
}

Picture render(const Lens& lens, std::uint64_t frame) {
  if (std::min(lens.width, lens.height) < 16 || std::max(lens.width, lens.height) > 8192)
    throw std::logic_error("a lens renders 16 to 8192 pixels a side");
  Picture p;
  p.width = lens.width, p.height = lens.height;
  p.rgb.resize(3 * static_cast<std::size_t>(lens.width) * static_cast<std::size_t>(lens.height));
  if (!lens.present) return p;
  if (lens.lamp.covered) {
    read_out(under_finger(lens), frame, finger_light(lens), p);
    return p;
  }
  auto scene = scene_light(lens, frame);
  light_it(lens, scene);
  shade_and_expose(lens, scene);
  read_out(lens, frame, scene, p);
  for (const StuckPixel& s : lens.stuck) stick(lens, s, scene, p);
  return p;
}
}  // namespace hb::standin
