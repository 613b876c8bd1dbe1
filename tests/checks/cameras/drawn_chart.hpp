/// The bench's chart as a lens would show it, drawn from closed forms for these tests: every pixel is taken
/// back to the chart through a pinhole, and a tile's light is a product of normal distribution functions of
/// the distances to its sides.
#pragma once

#include <cstdint>

#include "checks/cameras/cameras.hpp"

namespace hb::checks::testing {

struct Drawn {
  int width = 1280, height = 960;
  double sigma_px = 0.7;      ///< blur everywhere
  double sigma_right_px = 0;  ///< added at the right edge, 0 at the left
  double veil = 0;            ///< added light, as a fraction of the ground
  double exposure = 0.8;      ///< linear value of the ground
  double shading = 0.15;      ///< light lost in the corners
  double corner_dark = 0;     ///< light lost in the top left corner besides
  double red = 1, blue = 1;   ///< channel gains
  double noise_sd = 0.004;
  double scale = 1, roll_deg = 0, shift_x = 0, shift_y = 0;  ///< chart in the frame; shift in pixels
  double yaw_deg = 0, pitch_deg = 0;                         ///< above 0: right, lower side farther away
  double view_deg = 68;
  double distortion = 0;  ///< undistorted radius r (1 + distortion r^2), r over the half diagonal
  double wall = 0.30;     ///< reflectance round the paper
  double slope = 0;       ///< of the light from left to right, 0.1: +-5 %
  double reflection = 0, reflection_x = 0.62, reflection_y = 0.42;  ///< a mirrored lamp, over the ground
  double shake_px = 0, shake_deg = 0;                               ///< movement during the exposure
  double print_blur = 0;                                            ///< as in Chart
  bool upside_down = false, chart = true;
  std::uint32_t seed = 1;
  friend bool operator==(const Drawn&, const Drawn&) = default;
};

[[nodiscard]] Frame draw(const Drawn& d);
/// How far the outermost corner of a tile is inside the frame; below 0: outside. Pixels.
[[nodiscard]] double room_px(const Drawn& d);

}  // namespace hb::checks::testing
