#include "checks/kernel/esfr.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

#include "checks/kernel/fourier.hpp"
#include "checks/kernel/line_fit.hpp"

namespace hb::kernel {
namespace {
constexpr double kPi = std::numbers::pi;
constexpr int kPerPixel = 4;  // bins per pixel, ISO 12233
constexpr int kGroups = 10;   // of lines, for the jackknife
constexpr double kCorrectionCap = 10;

Error refuse(const char* what, const char* next) {
  return {ErrorCode::invalid_argument, what, "e-SFR", next};
}

Plane transposed(const Plane& p) {
  Plane t{p.height, p.width, std::vector<float>(p.values.size())};
  for (int y = 0; y < p.height; ++y)
    for (int x = 0; x < p.width; ++x)
      t.values[static_cast<std::size_t>(x) * static_cast<std::size_t>(t.width) +
               static_cast<std::size_t>(y)] = p.at(x, y);
  return t;
}

/// Mean change across the region, left to right and top to bottom: the larger one is across the edge.
bool runs_mostly_down(const Plane& p) {
  double across = 0, down = 0;
  for (int y = 0; y < p.height; ++y) across += std::abs(p.at(p.width - 1, y) - p.at(0, y));
  for (int x = 0; x < p.width; ++x) down += std::abs(p.at(x, p.height - 1) - p.at(x, 0));
  return across / p.height >= down / p.width;
}

/// Light levels at both ends of the lines: means over the outer sixth.
std::array<double, 2> end_levels(const Plane& p) {
  const int n = std::max(2, p.width / 6);
  std::array<double, 2> sum{};
  for (int y = 0; y < p.height; ++y)
    for (int x = 0; x < n; ++x) sum[0] += p.at(x, y), sum[1] += p.at(p.width - 1 - x, y);
  for (double& s : sum) s /= static_cast<double>(n) * p.height;
  return sum;
}

/// Centroid of the derivative in line y under a Hamming window of half width `half` about `centre`. The
/// window's cosine is turned on from pixel to pixel instead of computed anew.
std::optional<double> centroid(const Plane& p, int y, double centre, double half) {
  const int first = std::max(1, static_cast<int>(std::ceil(centre - half)));
  const int last = std::min(p.width - 2, static_cast<int>(std::floor(centre + half)));
  const double step = kPi / half, start = step * (first - centre);
  const double turn_c = std::cos(step), turn_s = std::sin(step);
  double c = std::cos(start), s = std::sin(start);
  const float* line = p.values.data() + static_cast<std::size_t>(y) * static_cast<std::size_t>(p.width);
  double sum = 0, moment = 0;
  for (int x = first; x <= last; ++x) {
    const double d = 0.5 * (static_cast<double>(line[x + 1]) - static_cast<double>(line[x - 1]));
    const double w = d * (0.54 + 0.46 * c);
    sum += w, moment += w * x;
    const double next = c * turn_c - s * turn_s;
    s = s * turn_c + c * turn_s;
    c = next;
  }
  if (sum == 0) return std::nullopt;
  const double at = moment / sum;
  if (!(at > 0) || !(at < p.width - 1)) return std::nullopt;
  return at;
}

/// x = intercept + slope y. Passes with windows that follow the line found so far.
std::optional<LineFit> find_edge(const Plane& p) {
  LineFit line;
  line.intercept = 0.5 * (p.width - 1);
  double half = 0.5 * p.width;
  for (int pass = 0; pass < 4; ++pass) {
    std::vector<double> ys, xs;
    for (int y = 0; y < p.height; ++y)
      if (const auto x = centroid(p, y, line.at(y), half)) ys.push_back(y), xs.push_back(*x);
    if (static_cast<int>(ys.size()) < p.height * 3 / 4) return std::nullopt;
    const auto fitted = fit_line(ys, xs);
    if (!fitted) return std::nullopt;
    line = *fitted;
    if (pass == 1) half = std::max(12.0, 0.35 * p.width);
  }
  return line;
}

/// Sums of the pixels by distance from the edge, per group of lines, so that leaving a group out is cheap.
/// `where` sums the places in the bin, 0 to 1: at some slants (1 in 4 above all) pixels fall on few places.
struct Bin {
  double sum = 0, where = 0, hits = 0;
};
struct Bins {
  int count = 0;
  std::array<std::vector<Bin>, kGroups> group;
  std::vector<Bin> all;
};

Bins project(const Plane& p, const LineFit& line, int lines) {
  Bins b;
  // A span that every line covers, whatever its shift: no bin is fed by a part of the lines only.
  const double lean = std::abs(line.slope) * lines / 2;
  const double middle = line.at(0.5 * (lines - 1));
  const double reach = std::min(middle, p.width - 1 - middle) - lean;
  const double cosine = 1 / std::hypot(1.0, line.slope);
  const int half = static_cast<int>(std::floor(reach * cosine * kPerPixel));
  b.count = 2 * half;
  if (half < kPerPixel * 6) return b;
  const auto n = static_cast<std::size_t>(b.count);
  for (auto& g : b.group) g.assign(n, {});
  const double per_pixel = cosine * kPerPixel;
  for (int y = 0; y < lines; ++y) {
    Bin* bins = b.group[static_cast<std::size_t>(y * kGroups / lines)].data();
    const float* row = p.values.data() + static_cast<std::size_t>(y) * static_cast<std::size_t>(p.width);
    // Shifted to the positive side, so that truncation is rounding.
    const double at_zero = -line.at(y) * per_pixel + half + 0.5;
    const int first = std::max(0, static_cast<int>(std::ceil(-at_zero / per_pixel)));
    const int last = std::min(p.width - 1, static_cast<int>((b.count - at_zero) / per_pixel) + 1);
    for (int x = first; x <= last; ++x) {
      const double at = at_zero + x * per_pixel;
      const auto k = static_cast<int>(at);
      if (k >= b.count) break;
      Bin& bin = bins[k];
      bin.sum += static_cast<double>(row[x]);
      bin.where += at - k;
      bin.hits += 1;
    }
  }
  b.all.assign(n, {});
  for (const auto& g : b.group)
    for (std::size_t k = 0; k < n; ++k)
      b.all[k].sum += g[k].sum, b.all[k].where += g[k].where, b.all[k].hits += g[k].hits;
  return b;
}

/// The super-sampled edge without group `left_out` (-1: all), at the bins' middles: the mean light of a bin
/// is that at the mean place of its pixels, and is moved to the middle along the slope between its
/// neighbours. Empty bins lie on the line between theirs.
std::vector<double> edge_spread(const Bins& b, int left_out) {
  const auto n = static_cast<std::size_t>(b.count);
  std::vector<double> e(n, 0), at(n, 0);  // light and place of the bins that have any, packed
  std::vector<std::size_t> bin;
  bin.reserve(n);
  const Bin* out = left_out < 0 ? nullptr : b.group[static_cast<std::size_t>(left_out)].data();
  for (std::size_t k = 0; k < n; ++k) {
    const double hits = b.all[k].hits - (out != nullptr ? out[k].hits : 0);
    if (hits < 0.5) continue;
    const double sum = b.all[k].sum - (out != nullptr ? out[k].sum : 0);
    const double where = b.all[k].where - (out != nullptr ? out[k].where : 0);
    e[bin.size()] = sum / hits;
    at[bin.size()] = static_cast<double>(k) + where / hits - 0.5;
    bin.push_back(k);
  }
  std::vector<double> spread(n, 0);
  if (bin.size() < 2) return spread;
  const std::size_t m = bin.size();
  for (std::size_t i = 0; i < m; ++i) {
    const std::size_t before = i == 0 ? 0 : i - 1, after = i + 1 == m ? i : i + 1;
    const double slope = (e[after] - e[before]) / (at[after] - at[before]);
    spread[bin[i]] = e[i] + slope * (static_cast<double>(bin[i]) - at[i]);
  }
  std::fill(spread.begin(), spread.begin() + static_cast<std::ptrdiff_t>(bin[0]), spread[bin[0]]);
  std::fill(spread.begin() + static_cast<std::ptrdiff_t>(bin[m - 1]), spread.end(), spread[bin[m - 1]]);
  for (std::size_t i = 1; i < m; ++i)
    for (std::size_t j = bin[i - 1] + 1; j < bin[i]; ++j)
      spread[j] = spread[bin[i - 1]] + (spread[bin[i]] - spread[bin[i - 1]]) *
                                           static_cast<double>(j - bin[i - 1]) /
                                           static_cast<double>(bin[i] - bin[i - 1]);
  return spread;
}

/// Line spread, windowed about its peak. `peak` < 0: found here; the jackknife keeps the first one's.
std::vector<double> line_spread(const std::vector<double>& e, int& peak) {
  const int n = static_cast<int>(e.size());
  std::vector<double> l(e.size(), 0);
  for (int k = 1; k + 1 < n; ++k)
    l[static_cast<std::size_t>(k)] =
        0.5 * (e[static_cast<std::size_t>(k + 1)] - e[static_cast<std::size_t>(k - 1)]);
  if (peak < 0) {
    // The edge is at the middle by construction; the peak of a noisy curve is sought after light smoothing.
    double best = -1;
    for (int k = n / 4; k < n - n / 4; ++k) {
      double s = 0;
      for (int j = -3; j <= 3; ++j) s += l[static_cast<std::size_t>(k + j)];
      if (std::abs(s) > best) best = std::abs(s), peak = k;
    }
  }
  for (int k = 0; k < n; ++k) {
    const double t = static_cast<double>(k - peak) / (n / 2);
    l[static_cast<std::size_t>(k)] *= std::abs(t) <= 1 ? 0.54 + 0.46 * std::cos(kPi * t) : 0.08;
  }
  return l;
}

double difference_correction(double f) noexcept {
  const double x = kPi * f / 2;  // [-1/2, 0, 1/2] at 4 samples a pixel
  if (x == 0) return 1;
  const double s = std::sin(x);
  return s * kCorrectionCap <= x ? kCorrectionCap : x / s;
}

double bin_correction(double f) noexcept {
  const double x = kPi * f / kPerPixel;
  return x == 0 ? 1 : x / std::sin(x);
}

struct Curve {
  std::vector<double> frequency, response;
};
Curve curve_of(const std::vector<double>& lsf, RealDft& dft) {
  const auto m = dft.modulus(lsf);
  Curve c;
  if (!(m[0] > 0)) return c;
  for (std::size_t k = 0; k < m.size(); ++k) {
    const double f = static_cast<double>(kPerPixel) * static_cast<double>(k) / dft.size();
    if (f > 1) break;
    c.frequency.push_back(f);
    c.response.push_back(m[k] / m[0] * difference_correction(f) * bin_correction(f));
  }
  return c;
}

std::optional<double> half_frequency(const Curve& c) {
  for (std::size_t k = 1; k < c.response.size(); ++k)
    if (c.response[k] < 0.5) {
      const double a = c.response[k - 1], b = c.response[k];
      return c.frequency[k - 1] + (c.frequency[k] - c.frequency[k - 1]) * (a - 0.5) / (a - b);
    }
  return std::nullopt;
}

/// Delete-one-group jackknife: sqrt((G - 1)/G sum (x_g - mean)^2).
double jackknife_u(const Bins& b, int peak, RealDft& dft, double whole) {
  std::vector<double> part;
  for (int g = 0; g < kGroups; ++g)
    part.push_back(half_frequency(curve_of(line_spread(edge_spread(b, g), peak), dft)).value_or(whole));
  double m = 0, ss = 0;
  for (const double x : part) m += x / kGroups;
  for (const double x : part) ss += (x - m) * (x - m);
  return std::sqrt(ss * (kGroups - 1) / kGroups);
}

/// Lines used: a whole number of pixel crossings of the edge, so that every sub-pixel phase counts equally.
int whole_phases(int lines, double slope) {
  const double crossings = std::floor(lines * std::abs(slope));
  return crossings >= 1 ? std::min(lines, static_cast<int>(std::lround(crossings / std::abs(slope)))) : lines;
}

double square(double x) noexcept { return x * x; }

/// The Hamming window narrows the line spread. Near its middle it is 1 - 0.46 (2 pi x / width)^2 / 2, which
/// makes a Gaussian of sigma narrower by 9.1 sigma^2 / width^2 of itself and MTF50 higher by as much; sigma
/// is taken from MTF50, and the rise as the half width of a rectangular error.
double window_error(double mtf50, int bins) noexcept {
  const double sigma = kGaussianMtf50 / mtf50, width = static_cast<double>(bins) / kPerPixel;
  return mtf50 * 9.1 * square(sigma / width) / std::sqrt(3.0);
}

Result<Esfr> measure_vertical(const Plane& p) {
  const auto ends = end_levels(p);
  const double sum = ends[0] + ends[1];
  const double contrast = sum > 0 ? std::abs(ends[1] - ends[0]) / sum : 0;
  if (!(contrast >= 0.05))
    return refuse("no edge: the two sides are equally bright", "Move the region on an edge.");
  const auto line = find_edge(p);
  if (!line || !(line->residual_sd < 0.1 * p.width))
    return refuse("the edge is not straight or leaves the region", "Keep other structure out of the region.");
  const double angle = std::atan(line->slope) * 180 / kPi;
  if (std::abs(angle) < 1 || std::abs(angle) > 30)
    return refuse("the edge is not slanted by 1 to 30 degrees", "Turn the chart or the phone by 5 degrees.");
  const int lines = whole_phases(p.height, line->slope);
  const Bins bins = project(p, *line, lines);
  if (bins.count < 2 * kPerPixel * 6)
    return refuse("the edge is too near the region's side", "Centre the region on the edge.");
  RealDft dft(bins.count);
  int peak = -1;
  const Curve curve = curve_of(line_spread(edge_spread(bins, -1), peak), dft);
  const auto half = half_frequency(curve);
  if (!half) return refuse("the response never falls to one half", "Look for sharpening or a drawn edge.");
  Esfr e;
  e.frequency = curve.frequency;
  e.response = curve.response;
  e.mtf50_cpp = *half;
  e.u_mtf50_cpp = std::sqrt(square(jackknife_u(bins, peak, dft, *half)) +
                            square(kEsfrMethodRelative * *half) + square(window_error(*half, bins.count)));
  e.angle_deg = angle;
  e.contrast = contrast;
  e.fit_rms_px = line->residual_sd;
  e.lines = lines;
  return e;
}
}  // namespace

Result<Esfr> esfr(const Plane& region) {
  if (region.width < 20 || region.height < 20 ||
      region.values.size() !=
          static_cast<std::size_t>(region.width) * static_cast<std::size_t>(region.height))
    return refuse("the region is smaller than 20 by 20 pixels", "Come nearer to the chart.");
  if (!std::all_of(region.values.begin(), region.values.end(), [](float v) { return std::isfinite(v); }))
    return refuse("the region holds values that are no numbers", "Read the frame again.");
  const bool down = runs_mostly_down(region);
  auto e = measure_vertical(down ? region : transposed(region));
  if (e) e->near_vertical = down;
  return e;
}

double response_at(const Esfr& e, double f) noexcept {
  const auto it = std::lower_bound(e.frequency.begin(), e.frequency.end(), f);
  if (it == e.frequency.end()) return 0;
  const auto k = static_cast<std::size_t>(it - e.frequency.begin());
  if (k == 0 || *it == f) return e.response[k];
  const double t = (f - e.frequency[k - 1]) / (e.frequency[k] - e.frequency[k - 1]);
  return e.response[k - 1] + t * (e.response[k] - e.response[k - 1]);
}
}  // namespace hb::kernel
