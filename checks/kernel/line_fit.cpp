#include "checks/kernel/line_fit.hpp"

#include <algorithm>
#include <cmath>

namespace hb::kernel {
namespace {
using Wide = long double;  // 64-bit mantissa on the platforms that we build for

Wide wide_mean(std::span<const double> v) {
  Wide sum = 0;
  for (const double x : v) sum += x;
  return sum / static_cast<Wide>(v.size());
}

bool all_finite(std::span<const double> v) {
  return std::all_of(v.begin(), v.end(), [](double x) { return std::isfinite(x); });
}
}  // namespace

std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y) {
  const std::size_t n = x.size();
  if (n < 3 || y.size() != n || !all_finite(x) || !all_finite(y)) return std::nullopt;
  const Wide mx = wide_mean(x), my = wide_mean(y);
  Wide sxx = 0, sxy = 0, syy = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const Wide dx = x[i] - mx, dy = y[i] - my;
    sxx += dx * dx, sxy += dx * dy, syy += dy * dy;
  }
  if (!(sxx > 0)) return std::nullopt;
  const Wide slope = sxy / sxx, intercept = my - slope * mx;
  Wide ss = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const Wide r = (y[i] - my) - slope * (x[i] - mx);
    ss += r * r;
  }
  const Wide count = static_cast<Wide>(n), s2 = ss / (count - 2);
  LineFit f;
  f.intercept = static_cast<double>(intercept);
  f.slope = static_cast<double>(slope);
  f.u_slope = static_cast<double>(std::sqrt(s2 / sxx));
  f.u_intercept = static_cast<double>(std::sqrt(s2 * (1 / count + mx * mx / sxx)));
  f.residual_sd = static_cast<double>(std::sqrt(s2));
  f.residual_ss = static_cast<double>(ss);
  f.r_squared = syy > 0 ? static_cast<double>(1 - ss / syy) : 1.0;
  f.n = static_cast<int>(n);
  return f;
}

std::optional<TotalLine> fit_total_line(std::span<const Point> points) {
  const std::size_t n = points.size();
  if (n < 3) return std::nullopt;
  double mx = 0, my = 0;
  for (const Point& p : points) mx += p.x, my += p.y;
  const double count = static_cast<double>(n);
  mx /= count, my /= count;
  if (!std::isfinite(mx) || !std::isfinite(my)) return std::nullopt;
  double sxx = 0, sxy = 0, syy = 0;
  for (const Point& p : points) {
    const double dx = p.x - mx, dy = p.y - my;
    sxx += dx * dx, sxy += dx * dy, syy += dy * dy;
  }
  if (!(sxx + syy > 0)) return std::nullopt;
  const double angle = 0.5 * std::atan2(2 * sxy, sxx - syy);
  TotalLine line{mx, my, std::cos(angle), std::sin(angle), 0, static_cast<int>(n)};
  double ss = 0;
  for (const Point& p : points) ss += line.distance(p) * line.distance(p);
  line.rms = std::sqrt(ss / (count - 2));
  return line;
}
}  // namespace hb::kernel
