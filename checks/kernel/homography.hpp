/// Projective maps of a plane: what a flat chart held at an angle looks like. Pure; any thread.
/// Sources, from memory: Hartley and Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed.: the
/// normalised direct linear transform (algorithm 4.2), then the least squares of the distances in the picture
/// (section 4.2.3, error in one image), here by Gauss and Newton.
#pragma once

#include <array>
#include <optional>
#include <span>

#include "checks/kernel/line_fit.hpp"

namespace hb::kernel {

struct Homography {
  std::array<double, 9> h{1, 0, 0, 0, 1, 0, 0, 0, 1};  ///< row major, x' ~ H x
  /// Image of a point; values are not finite for a point that maps to infinity.
  [[nodiscard]] Point at(Point p) const noexcept;
  /// d(x', y')/d(x, y): dx'/dx, dx'/dy, dy'/dx, dy'/dy.
  [[nodiscard]] std::array<double, 4> derivative(Point p) const noexcept;
};

struct HomographyFit {
  Homography map;  ///< h[8] is 1
  double rms = 0;  ///< of the distances in `to`, over 2 n - 8 degrees of freedom; 0 for four points
  int n = 0;
};

/// The map that brings `from` nearest to `to`. nullopt: sizes differ, fewer than four points, values that are
/// not finite, or points of which no four are in general position.
[[nodiscard]] std::optional<HomographyFit> fit_homography(std::span<const Point> from,
                                                          std::span<const Point> to);

}  // namespace hb::kernel
