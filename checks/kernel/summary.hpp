/// Summaries of a sample: mean and spread (two passes in extended precision, so that the NIST StRD NumAcc
/// sets hold), robust summaries, and the Theil-Sen slope. Units: those of the data. Pure; any thread. An
/// empty sample gives NaN unless said otherwise; values that are not finite are the caller's mistake and come
/// out as NaN.
#pragma once

#include <optional>
#include <span>

namespace hb::kernel {

[[nodiscard]] double mean(std::span<const double> v);
/// Sample standard deviation, n - 1. 0 for a single value: no spread was seen.
[[nodiscard]] double standard_deviation(std::span<const double> v);
/// Standard uncertainty of the mean, s / sqrt(n) (type A, JCGM 100:2008 4.2.3).
[[nodiscard]] double mean_uncertainty(std::span<const double> v);
/// Lag-1 autocorrelation as NIST StRD defines it (deviations from the one overall mean).
[[nodiscard]] double lag1_autocorrelation(std::span<const double> v);

[[nodiscard]] double median(std::span<const double> v);
/// Median absolute deviation from the median, as it is (multiply by 1.4826 to estimate a normal sd).
[[nodiscard]] double median_absolute_deviation(std::span<const double> v);
inline constexpr double kMadToSd = 1.482602218505602;  ///< 1 / (normal quantile of 0.75)
/// Robust standard uncertainty of the median: 1.2533 * 1.4826 MAD / sqrt(n) (asymptotic, normal data).
[[nodiscard]] double median_uncertainty(std::span<const double> v);
/// Quantile with linear interpolation between order statistics (Hyndman and Fan 1996, type 7; R's default).
/// p is clamped to 0..1.
[[nodiscard]] double quantile(std::span<const double> v, double p);

/// Theil (1950) and Sen (1968): the median of all pairwise slopes; limits by Sen's rank interval, 95 %.
struct TheilSen {
  double slope = 0, intercept = 0;  ///< intercept: median(y) - slope median(x)
  double slope_low = 0, slope_high = 0;
  /// Standard uncertainty of the slope from the 95 % interval, taken as normal.
  double u_slope = 0;
};
/// nullopt: fewer than 3 points, sizes differ, or no two x differ. Quadratic in n: meant for n <= 2000.
[[nodiscard]] std::optional<TheilSen> theil_sen(std::span<const double> x, std::span<const double> y);

}  // namespace hb::kernel
