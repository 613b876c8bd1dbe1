/// The bench's chart: what is printed where. Pure; any thread.
#pragma once

#include <array>
#include <cstddef>

#include "checks/kernel/homography.hpp"

namespace hb::checks::camera {

/// Places are fractions of the chart's width and height, sizes fractions of its height. Five dark tiles on a
/// light neutral ground, and a black trap. A tile is a square whose four sides lean by `lean_deg` about their
/// middles, opposite sides opposite ways (narrower at the top and at the left): however the phone is rolled,
/// one of two opposite sides stands at a slant that a slanted-edge measurement can use.
struct Chart {
  /// Centre, top left, top right, bottom left, bottom right.
  std::array<double, 5> x{0.50, 0.15, 0.85, 0.15, 0.85}, y{0.50, 0.17, 0.17, 0.83, 0.83};
  double side = 0.16, lean_deg = 7;
  double trap_x = 0.50, trap_y = 0.17, trap_side = 0.10;
  double aspect = 4.0 / 3;                         ///< width over height
  double ground = 0.72, tile = 0.18, trap = 0.02;  ///< linear reflectances
  double height_mm = 0;                            ///< of the printed chart; 0: not known
  double print_blur = 0;  ///< Gaussian sigma of the printed edges over the chart's height
};

/// Chart heights from the chart's middle, x right, y down.
[[nodiscard]] inline kernel::Point position(const Chart& c, double x, double y) noexcept {
  return {(x - 0.5) * c.aspect, y - 0.5};
}
/// Corners of tile `k` in these units, clockwise from the top left; side `j` runs from corner j to j + 1, so
/// that 0 is the top, 1 the right, 2 the bottom, 3 the left one.
[[nodiscard]] std::array<kernel::Point, 4> corners(const Chart& c, std::size_t k) noexcept;

}  // namespace hb::checks::camera
