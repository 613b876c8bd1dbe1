#include "checks/kernel/summary.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace hb::kernel {
namespace {
using Wide = long double;
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

Wide wide_mean(std::span<const double> v) {
  Wide sum = 0;
  for (const double x : v) sum += x;
  const Wide first = sum / static_cast<Wide>(v.size());
  Wide rest = 0;  // second pass: takes the rounding of the first away
  for (const double x : v) rest += x - first;
  return first + rest / static_cast<Wide>(v.size());
}

std::vector<double> sorted(std::span<const double> v) {
  std::vector<double> s(v.begin(), v.end());
  std::sort(s.begin(), s.end());
  return s;
}

bool any_nan(std::span<const double> v) {
  return std::any_of(v.begin(), v.end(), [](double x) { return std::isnan(x); });
}

double quantile_of_sorted(const std::vector<double>& s, double p) {
  const double h = static_cast<double>(s.size() - 1) * std::clamp(p, 0.0, 1.0);
  const auto lo = static_cast<std::size_t>(std::floor(h));
  const std::size_t hi = std::min(lo + 1, s.size() - 1);
  const double f = h - static_cast<double>(lo);
  return f == 0 ? s[lo] : s[lo] + f * (s[hi] - s[lo]);
}

/// Sum over groups of equal values of k (k - 1) (2k + 5): Sen's correction for ties.
double tie_sum(const std::vector<double>& s) {
  double sum = 0;
  for (std::size_t i = 0; i < s.size();) {
    std::size_t j = i;
    while (j < s.size() && s[j] == s[i]) ++j;
    const double k = static_cast<double>(j - i);
    sum += k * (k - 1) * (2 * k + 5);
    i = j;
  }
  return sum;
}
}  // namespace

double mean(std::span<const double> v) { return v.empty() ? kNan : static_cast<double>(wide_mean(v)); }

double standard_deviation(std::span<const double> v) {
  if (v.empty()) return kNan;
  if (v.size() == 1) return 0;
  const Wide m = wide_mean(v);
  Wide ss = 0;
  for (const double x : v) ss += (x - m) * (x - m);
  return static_cast<double>(std::sqrt(ss / static_cast<Wide>(v.size() - 1)));
}

double mean_uncertainty(std::span<const double> v) {
  return v.empty() ? kNan : standard_deviation(v) / std::sqrt(static_cast<double>(v.size()));
}

double lag1_autocorrelation(std::span<const double> v) {
  if (v.size() < 2) return kNan;
  const Wide m = wide_mean(v);
  Wide num = 0, den = 0;
  for (std::size_t i = 0; i < v.size(); ++i) {
    den += (v[i] - m) * (v[i] - m);
    if (i > 0) num += (v[i] - m) * (v[i - 1] - m);
  }
  return den > 0 ? static_cast<double>(num / den) : kNan;
}

double quantile(std::span<const double> v, double p) {
  if (v.empty() || any_nan(v) || std::isnan(p)) return kNan;
  return quantile_of_sorted(sorted(v), p);
}

double median(std::span<const double> v) { return quantile(v, 0.5); }

double median_absolute_deviation(std::span<const double> v) {
  const double m = median(v);
  if (std::isnan(m)) return kNan;
  std::vector<double> d;
  d.reserve(v.size());
  for (const double x : v) d.push_back(std::abs(x - m));
  return median(d);
}

double median_uncertainty(std::span<const double> v) {
  if (v.empty()) return kNan;
  const double half_pi_root =
      1.2533141373155003;  // sqrt(pi / 2): the median's asymptotic variance, normal data
  return half_pi_root * kMadToSd * median_absolute_deviation(v) / std::sqrt(static_cast<double>(v.size()));
}

std::optional<TheilSen> theil_sen(std::span<const double> x, std::span<const double> y) {
  const std::size_t n = x.size();
  if (n < 3 || y.size() != n || any_nan(x) || any_nan(y)) return std::nullopt;
  std::vector<double> slopes;
  slopes.reserve(n * (n - 1) / 2);
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = i + 1; j < n; ++j)
      if (x[i] != x[j]) slopes.push_back((y[j] - y[i]) / (x[j] - x[i]));
  if (slopes.empty()) return std::nullopt;
  std::sort(slopes.begin(), slopes.end());
  TheilSen t;
  t.slope = quantile_of_sorted(slopes, 0.5);
  t.intercept = median(y) - t.slope * median(x);
  const double m = static_cast<double>(n), count = static_cast<double>(slopes.size());
  const double variance =
      (m * (m - 1) * (2 * m + 5) - tie_sum(sorted(x)) - tie_sum(sorted(y))) / 18;  // Sen 1968, eq. 2.6
  const double z95 = 1.959963984540054;
  const double width = z95 * std::sqrt(std::max(variance, 0.0));
  const double low = std::max(std::nearbyint((count - width) / 2) - 1, 0.0);
  const double high = std::min(std::nearbyint((count + width) / 2), count - 1);
  t.slope_low = slopes[static_cast<std::size_t>(low)];
  t.slope_high = slopes[static_cast<std::size_t>(high)];
  t.u_slope = (t.slope_high - t.slope_low) / (2 * z95);
  return t;
}
}  // namespace hb::kernel
