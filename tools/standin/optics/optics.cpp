#include "tools/standin/optics/optics.hpp"

#include <algorithm>
#include <boost/math/special_functions/erf.hpp>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace hb::standin {
namespace {
constexpr double kBackground = 0.72, kDark = 0.18, kTrap = 0.02;

struct Square {
  double x, y, side, turn_deg, reflectance;  // place and side as fractions of width, height, height
};
constexpr std::array<Square, 6> kChart{{{0.50, 0.50, 0.16, 5, kDark},
                                        {0.15, 0.17, 0.16, 5, kDark},
                                        {0.85, 0.17, 0.16, 5, kDark},
                                        {0.15, 0.83, 0.16, 5, kDark},
                                        {0.85, 0.83, 0.16, 5, kDark},
                                        {0.50, 0.17, 0.10, 0, kTrap}}};

// A bar of half width `half` blurred by a Gaussian: (erf((half+d)/(sigma sqrt 2)) + erf((half-d)/(...))) / 2.
double bar(double d, double half, double inverse_root2_sigma) noexcept {
  const auto step = [](double z) { return z > 4 ? 1.0 : z < -4 ? -1.0 : std::erf(z); };
  return 0.5 * (step((half + d) * inverse_root2_sigma) + step((half - d) * inverse_root2_sigma));
}

// The blurred indicator of a square is exactly the product of two bars along its own axes, because a round
// Gaussian separates in any turned frame.
void draw(const Square& s, const Lens& lens, std::vector<float>& scene) {
  const double cx = s.x * lens.width, cy = s.y * lens.height, half = 0.5 * s.side * lens.height;
  const double a = s.turn_deg * std::numbers::pi / 180, c = std::cos(a), n = std::sin(a);
  double widest = 0;
  for (const double sx : {-1.0, 1.0})
    for (const double sy : {-1.0, 1.0})
      widest = std::max(widest, local_sigma_px(lens, cx + 1.5 * sx * half, cy + 1.5 * sy * half));
  const double reach = half * (c + n) + 6 * widest + 1;
  const int x0 = std::max(0, static_cast<int>(cx - reach)),
            x1 = std::min(lens.width, static_cast<int>(cx + reach) + 1);
  const int y0 = std::max(0, static_cast<int>(cy - reach)),
            y1 = std::min(lens.height, static_cast<int>(cy + reach) + 1);
  const double depth = s.reflectance - kBackground;
  for (int y = y0; y < y1; ++y) {
    float* row = scene.data() + static_cast<std::size_t>(y) * lens.width;
    for (int x = x0; x < x1; ++x) {
      const double dx = x + 0.5 - cx, dy = y + 0.5 - cy;
      const double u = dx * c - dy * n, v = dx * n + dy * c;  // counter-clockwise as seen, y down
      const double k = std::numbers::sqrt2 / 2 / local_sigma_px(lens, x + 0.5, y + 0.5);
      row[x] += static_cast<float>(depth * bar(u, half, k) * bar(v, half, k));
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

// SplitMix64 as a counter-based source: the value depends on the counter alone.
std::uint64_t mix(std::uint64_t z) noexcept {
  z += 0x9e3779b97f4a7c15ull;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  return z ^ (z >> 31);
}

std::vector<float> scene_light(const Lens& lens) {
  const auto n = static_cast<std::size_t>(lens.width) * static_cast<std::size_t>(lens.height);
  std::vector<float> scene(n, static_cast<float>(kBackground));
  if (lens.chart_in_view)
    for (const auto& square : kChart) draw(square, lens, scene);
  return scene;
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
      *to++ = code[static_cast<std::size_t>(std::clamp(v, 0.0f, 1.0f) * kCodeSteps + 0.5f)];
    }
  }
}
}  // namespace

double local_sigma_px(const Lens& lens, double x, double y) noexcept {
  constexpr double pixel_sigma = 0.288675134594812882;  // sqrt(1/12): the pixel's own aperture
  const double w = lens.width, h = lens.height, dx = x - w / 2, dy = y - h / 2;
  const double r2 = (dx * dx + dy * dy) / (0.25 * (w * w + h * h));
  return std::max(pixel_sigma, lens.blur_px + lens.tilt_px * x / w + lens.corner_px * r2);
}

Picture render(const Lens& lens, std::uint64_t frame) {
  if (std::min(lens.width, lens.height) < 16 || std::max(lens.width, lens.height) > 8192)
    throw std::logic_error("a lens renders 16 to 8192 pixels a side");
  Picture p;
  p.width = lens.width, p.height = lens.height;
  p.rgb.resize(3 * static_cast<std::size_t>(lens.width) * static_cast<std::size_t>(lens.height));
  if (!lens.present) return p;
  auto scene = scene_light(lens);
  shade_and_expose(lens, scene);
  read_out(lens, frame, scene, p);
  return p;
}
}  // namespace hb::standin
