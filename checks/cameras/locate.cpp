#include "locate.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <vector>

#include "checks/kernel/regions.hpp"

namespace hb::checks::camera {
namespace {
using Complex = std::complex<double>;
using kernel::Plane;
constexpr int kRows = 240;       // of the reduced frame
constexpr double kReach = 0.15;  // of the height: further than from a tile's middle to the ground
constexpr float kDarkShare = 0.7f;
constexpr std::size_t kMostBlobs = 60;  // a picture full of squares is not the chart

/// Mean over blocks of f x f pixels.
Plane reduced(const Plane& p, int f) {
  Plane r{p.width / f, p.height / f, {}};
  r.values.resize(static_cast<std::size_t>(r.width) * static_cast<std::size_t>(r.height), 0);
  const auto share = 1 / static_cast<float>(f * f);
  for (int y = 0; y < r.height * f; ++y) {
    const float* from = p.values.data() + static_cast<std::size_t>(y) * static_cast<std::size_t>(p.width);
    float* to = r.values.data() + static_cast<std::size_t>(y / f) * static_cast<std::size_t>(r.width);
    for (int x = 0; x < r.width; ++x, from += f)
      for (int i = 0; i < f; ++i) to[x] += from[i] * share;
  }
  return r;
}

/// Largest value within `reach` along a line of `n` values, `step` apart. Running maximum over blocks (van
/// Herk 1992): two passes, whatever the reach.
void widen(float* line, int n, int step, int reach, std::vector<float>& up, std::vector<float>& down) {
  const int w = 2 * reach + 1, padded = n + 2 * reach;
  up.assign(static_cast<std::size_t>(padded), 0), down.assign(static_cast<std::size_t>(padded), 0);
  const auto at = [&](int i) { return i < reach || i >= n + reach ? 0.0f : line[(i - reach) * step]; };
  for (int i = 0; i < padded; ++i)
    up[static_cast<std::size_t>(i)] =
        i % w == 0 ? at(i) : std::max(up[static_cast<std::size_t>(i - 1)], at(i));
  for (int i = padded - 1; i >= 0; --i)
    down[static_cast<std::size_t>(i)] =
        i % w == w - 1 || i == padded - 1 ? at(i) : std::max(down[static_cast<std::size_t>(i + 1)], at(i));
  for (int i = 0; i < n; ++i)
    line[i * step] = std::max(down[static_cast<std::size_t>(i)], up[static_cast<std::size_t>(i + w - 1)]);
}

/// What the brightest places near by are; a mirrored lamp is no more than a bright ground.
Plane brightest_near(Plane p) {
  std::vector<float> sorted = p.values;
  const auto at = sorted.begin() + static_cast<std::ptrdiff_t>(0.85 * static_cast<double>(sorted.size()));
  std::nth_element(sorted.begin(), at, sorted.end());
  const float most = 1.15f * *at;
  for (float& v : p.values) v = std::min(v, most);
  const int reach = static_cast<int>(kReach * p.height);
  std::vector<float> up, down;
  for (int y = 0; y < p.height; ++y) widen(p.values.data() + y * p.width, p.width, 1, reach, up, down);
  for (int x = 0; x < p.width; ++x) widen(p.values.data() + x, p.height, p.width, reach, up, down);
  return p;
}

struct Blob {
  Complex middle;   // full-size pixels
  double side = 0;  // of a square of its area, full-size pixels
};
struct Blobs {
  std::vector<Blob> whole;
  std::vector<Blob> cut;  // by the frame's border
};

Blobs dark_squares(const Plane& small, int f) {
  const Plane bright = brightest_near(small);
  std::vector<std::uint8_t> dark;
  dark.reserve(small.values.size());
  for (std::size_t i = 0; i < small.values.size(); ++i)
    dark.push_back(small.values[i] < kDarkShare * bright.values[i] ? 1 : 0);
  Blobs out;
  for (const auto& r : kernel::find_regions(dark, small.width, small.height).all) {
    const double side = std::sqrt(static_cast<double>(r.cells)) / small.height;
    const double fill = static_cast<double>(r.cells) / (static_cast<double>(r.width()) * r.height());
    const double aspect = static_cast<double>(r.width()) / r.height();
    const bool cut = r.col_first == 0 || r.row_first == 0 || r.col_last == small.width - 1 ||
                     r.row_last == small.height - 1;
    if (side < 0.035 || side > 0.26 || fill < 0.45) continue;
    const Blob b{Complex((r.col_centre + 0.5) * f, (r.row_centre + 0.5) * f), side * small.height * f};
    if (cut)
      out.cut.push_back(b);
    else if (aspect > 0.45 && aspect < 2.2 && out.whole.size() < kMostBlobs)
      out.whole.push_back(b);
  }
  return out;
}

/// Middles of the tiles by the similarity that brings tile 0 to `centre` and tile 1 to `corner`; cost is the
/// mean miss over the size.
std::optional<std::pair<double, std::array<Complex, 5>>> matched(const std::vector<Blob>& blobs,
                                                                 const Blob& centre, const Blob& corner,
                                                                 const std::array<Complex, 5>& want,
                                                                 double side) {
  const Complex turn = (corner.middle - centre.middle) / (want[1] - want[0]);
  const double scale = std::abs(turn), size = centre.side / side;
  if (!(size > 0.65 * scale) || !(size < 1.5 * scale)) return std::nullopt;
  std::array<Complex, 5> got{centre.middle, corner.middle};
  double cost = std::abs(std::log(size / scale));
  for (std::size_t k = 2; k < 5; ++k) {
    const Complex at = centre.middle + turn * (want[k] - want[0]);
    const Blob* best = nullptr;
    for (const Blob& b : blobs)
      if (b.side > 0.62 * centre.side && b.side < 1.6 * centre.side &&
          (best == nullptr || std::abs(b.middle - at) < std::abs(best->middle - at)))
        best = &b;
    if (best == nullptr) return std::nullopt;
    const double miss = std::abs(best->middle - at) / (scale * std::abs(want[k] - want[0]));
    if (miss > 0.4) return std::nullopt;
    got[k] = best->middle;
    cost += miss;
  }
  for (std::size_t a = 0; a < 5; ++a)
    for (std::size_t b = a + 1; b < 5; ++b)
      if (got[a] == got[b]) return std::nullopt;
  return std::pair{cost, got};
}

/// Some whole tiles and some cut ones of about their size.
bool looks_cut_off(const Blobs& b) {
  for (const Blob& whole : b.whole) {
    const auto alike = std::count_if(b.cut.begin(), b.cut.end(), [&](const Blob& c) {
      return c.side > 0.3 * whole.side && c.side < 1.6 * whole.side;
    });
    const auto equal = std::count_if(b.whole.begin(), b.whole.end(), [&](const Blob& o) {
      return o.side > 0.6 * whole.side && o.side < 1.6 * whole.side;
    });
    if (alike >= 1 && alike + equal >= 4) return true;
  }
  return false;
}
}  // namespace

Found locate(const Plane& light, const Chart& chart) {
  const int f = std::max(1, light.height / kRows);
  const Blobs blobs = dark_squares(reduced(light, f), f);
  std::array<Complex, 5> want;
  for (std::size_t k = 0; k < 5; ++k) {
    const auto p = position(chart, chart.x[k], chart.y[k]);
    want[k] = Complex(p.x, p.y);
  }
  std::optional<std::pair<double, std::array<Complex, 5>>> best;
  for (const Blob& centre : blobs.whole)
    for (const Blob& corner : blobs.whole) {
      if (&centre == &corner || corner.side < 0.62 * centre.side || corner.side > 1.6 * centre.side) continue;
      const auto m = matched(blobs.whole, centre, corner, want, chart.side);
      if (m && (!best || m->first < best->first)) best = m;
    }
  Found out;
  if (!best) {
    out.cut_off = looks_cut_off(blobs);
    return out;
  }
  Rough rough;
  for (std::size_t k = 0; k < 5; ++k) rough.middle[k] = {best->second[k].real(), best->second[k].imag()};
  out.chart = rough;
  return out;
}
}  // namespace hb::checks::camera
