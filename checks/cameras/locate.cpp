#include "locate.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/regions.hpp"
#include "checks/kernel/srgb.hpp"

namespace hb::checks::camera {
namespace {
using Complex = std::complex<double>;

/// Mean over blocks of f x f pixels.
kernel::Plane reduced(const kernel::Plane& p, int f) {
  kernel::Plane r{p.width / f, p.height / f, {}};
  r.values.reserve(static_cast<std::size_t>(r.width) * static_cast<std::size_t>(r.height));
  for (int y = 0; y < r.height; ++y)
    for (int x = 0; x < r.width; ++x) {
      float sum = 0;
      for (int j = 0; j < f; ++j)
        for (int i = 0; i < f; ++i) sum += p.at(x * f + i, y * f + j);
      r.values.push_back(sum / static_cast<float>(f * f));
    }
  return r;
}

/// Otsu's threshold over 256 bins of 0..1, or nullopt when the two classes differ by less than 1.5 to 1.
std::optional<float> dark_threshold(const kernel::Plane& p) {
  std::array<double, 256> count{};
  double total = 0, moment = 0;
  for (const float v : p.values) {
    const auto k = static_cast<std::size_t>(std::clamp(v, 0.0f, 1.0f) * 255);
    ++count[k], ++total, moment += static_cast<double>(k);
  }
  double best = -1, low_n = 0, low_m = 0, low_mean = 0, high_mean = 0;
  std::size_t first = 0, last = 0;  // equal maxima span the empty bins between the classes: take the middle
  for (std::size_t k = 0; k + 1 < count.size(); ++k) {
    low_n += count[k], low_m += count[k] * static_cast<double>(k);
    const double high_n = total - low_n;
    if (low_n == 0 || high_n == 0) continue;
    const double a = low_m / low_n, b = (moment - low_m) / high_n;
    const double between = low_n * high_n * (b - a) * (b - a);
    if (between > best * (1 + 1e-12)) best = between, first = k, low_mean = a, high_mean = b;
    if (between >= best * (1 - 1e-12)) last = k;
  }
  if (best <= 0 || high_mean + 0.5 < 1.5 * (low_mean + 0.5)) return std::nullopt;
  return static_cast<float>((static_cast<double>(first + last) / 2 + 1) / 255);
}

struct Blob {
  Complex centre;  // full-size pixels
  double area = 0;
};

std::vector<Blob> dark_squares(const kernel::Plane& small, int f, double expected_area) {
  const auto limit = dark_threshold(small);
  if (!limit) return {};
  std::vector<std::uint8_t> dark;
  dark.reserve(small.values.size());
  for (const float v : small.values) dark.push_back(v < *limit ? 1 : 0);
  std::vector<Blob> out;
  for (const auto& r : kernel::find_regions(dark, small.width, small.height).all) {
    const double area = static_cast<double>(r.cells) * f * f;
    const double aspect = static_cast<double>(r.width()) / r.height();
    const double fill = static_cast<double>(r.cells) / (static_cast<double>(r.width()) * r.height());
    if (area < 0.3 * expected_area || area > 2 * expected_area) continue;
    if (aspect < 0.6 || aspect > 1.67 || fill < 0.6) continue;
    out.push_back({Complex((r.col_centre + 0.5) * f, (r.row_centre + 0.5) * f), area});
    if (out.size() == 60) break;  // a picture full of squares is not the chart
  }
  return out;
}

/// Chart offsets of the squares from the chart's middle, pixels of a frame that the chart fills.
std::array<Complex, 5> offsets(const Cameras::Chart& c, double w, double h) {
  std::array<Complex, 5> o;
  for (std::size_t k = 0; k < 5; ++k) o[k] = Complex((c.x[k] - 0.5) * w, (c.y[k] - 0.5) * h);
  return o;
}

/// The other four squares if `centre` is the middle one: nearest blobs of like size; cost is the mean miss.
std::optional<std::pair<double, std::array<Complex, 5>>> matched(const std::vector<Blob>& blobs,
                                                                 const Blob& centre, double scale,
                                                                 const std::array<Complex, 5>& want,
                                                                 double h) {
  std::array<Complex, 5> got;
  got[0] = centre.centre;
  double cost = 0;
  for (std::size_t k = 1; k < 5; ++k) {
    const Complex at = centre.centre + scale * (want[k] - want[0]);
    const Blob* best = nullptr;
    for (const Blob& b : blobs)
      if (b.area > 0.5 * centre.area && b.area < 2 * centre.area &&
          (best == nullptr || std::abs(b.centre - at) < std::abs(best->centre - at)))
        best = &b;
    if (best == nullptr || std::abs(best->centre - at) > 0.11 * h * scale) return std::nullopt;
    got[k] = best->centre;
    cost += std::abs(best->centre - at) / 4;
  }
  for (std::size_t a = 0; a < 5; ++a)
    for (std::size_t b = a + 1; b < 5; ++b)
      if (got[a] == got[b]) return std::nullopt;
  return std::pair{cost, got};
}
}  // namespace

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
  for (std::size_t i = 0; i < p.values.size(); ++i)
    p.values[i] =
        weighted[0][frame.rgb[3 * i]] + weighted[1][frame.rgb[3 * i + 1]] + weighted[2][frame.rgb[3 * i + 2]];
  return p;
}

std::optional<Located> locate(const kernel::Plane& light, const Cameras::Chart& chart) {
  const int f = std::max(1, light.height / 240);
  const kernel::Plane small = reduced(light, f);
  const double w = light.width, h = light.height;
  const double side = chart.side * h;
  const auto want = offsets(chart, w, h);
  const auto blobs = dark_squares(small, f, side * side);
  std::optional<std::pair<double, std::array<Complex, 5>>> best;
  for (const Blob& b : blobs) {
    const auto m = matched(blobs, b, std::sqrt(b.area) / side, want, h);
    if (m && (!best || m->first < best->first)) best = m;
  }
  if (!best) return std::nullopt;
  Located l;
  l.centre = best->second;
  l.frame_w = w, l.frame_h = h;
  Complex mean_want = 0, mean_got = 0, over = 0;
  double under = 0;
  for (std::size_t k = 0; k < 5; ++k) mean_want += want[k] / 5.0, mean_got += l.centre[k] / 5.0;
  for (std::size_t k = 0; k < 5; ++k) {
    over += std::conj(want[k] - mean_want) * (l.centre[k] - mean_got);
    under += std::norm(want[k] - mean_want);
  }
  if (!(under > 0)) return std::nullopt;
  l.turn = over / under;  // least squares over similarities
  l.origin = mean_got - l.turn * mean_want;
  if (l.scale() < 0.55 || l.scale() > 1.4) return std::nullopt;
  return l;
}
}  // namespace hb::checks::camera
