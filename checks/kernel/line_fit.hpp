/// Straight lines: ordinary least squares with standard errors, and orthogonal (total) least squares for
/// points whose both coordinates are measured. Pure; any thread.
/// Sources: ordinary: Draper and Smith, "Applied Regression Analysis", chapter 1, computed centred in
/// extended precision so that the NIST StRD Norris set is met to its certified digits; orthogonal: Pearson,
/// "On lines and planes of closest fit" (1901): the line through the centroid along the larger principal
/// axis.
#pragma once

#include <optional>
#include <span>

namespace hb::kernel {

/// y = intercept + slope x. Standard uncertainties are the usual standard errors, n - 2 degrees of freedom.
struct LineFit {
  double intercept = 0, slope = 0;
  double u_intercept = 0, u_slope = 0;
  double residual_sd = 0, residual_ss = 0, r_squared = 0;
  int n = 0;
  [[nodiscard]] double at(double x) const noexcept { return intercept + slope * x; }
};

/// nullopt: fewer than 3 points, sizes differ, a value is not finite, or all x are equal.
[[nodiscard]] std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y);

struct Point {
  double x = 0, y = 0;
};

/// The line through (cx, cy) along the unit vector (dx, dy); rms is of the perpendicular distances
/// (divided by n - 2, the line's two parameters), same unit as the points.
struct TotalLine {
  double cx = 0, cy = 0, dx = 1, dy = 0;
  double rms = 0;
  int n = 0;
  /// Signed perpendicular distance of a point.
  [[nodiscard]] double distance(Point p) const noexcept { return (p.y - cy) * dx - (p.x - cx) * dy; }
  /// Position along the line, 0 at the centroid.
  [[nodiscard]] double along(Point p) const noexcept { return (p.x - cx) * dx + (p.y - cy) * dy; }
};

/// nullopt: fewer than 3 points, a value is not finite, or all points coincide.
[[nodiscard]] std::optional<TotalLine> fit_total_line(std::span<const Point> points);

}  // namespace hb::kernel
