/// The bench's chart as a lens would show it, drawn from closed forms for these tests: squares as products of
/// normal distribution functions of the distance to their sides.
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
  bool upside_down = false, chart = true;
  std::uint32_t seed = 1;
  friend bool operator==(const Drawn&, const Drawn&) = default;
};

[[nodiscard]] Frame draw(const Drawn& d);

}  // namespace hb::checks::testing
