/// What a camera of the stand-in sees: the bench's chart through a lens with blur, tilt, shading, haze and
/// sensor noise, rendered to 8-bit sRGB. Deterministic by seed. Threads: pure.
///
/// The chart, printed 4:3, filling the frame (fractions of frame width W and height H, x right, y down):
/// light neutral background, linear reflectance 0.72; five dark squares (linear 0.18, edge contrast 4:1 as
/// ISO 12233:2014 asks) of side 0.16 H, turned 5 degrees counter-clockwise about their centres, centred at
/// (0.50,0.50) (0.15,0.17) (0.85,0.17) (0.15,0.83) (0.85,0.83); a black trap (linear 0.02), side 0.10 H, not
/// turned, centred at (0.50,0.17), for veiling glare.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

namespace hb::standin {
struct Lens {
  bool present = true;
  int width = 1280, height = 960;
  double blur_px = 0.7;     ///< Gaussian sigma at the centre of the frame
  double tilt_px = 0;       ///< sigma added at the right edge, falling linearly to 0 at the left
  double corner_px = 0.15;  ///< sigma added at the corners (field curvature), growing with r^2
  double haze = 0;          ///< veiling glare: this fraction of the mean scene light added
  double shading = 0.18;    ///< light lost at the corners, symmetric
  double noise_sd = 0.004;  ///< linear light, at full scale
  double exposure = 0.85;   ///< background's linear value after auto exposure
  std::array<double, 3> white{1.0, 1.0, 1.0};  ///< channel gains left over after auto white balance
  bool chart_in_view = true;                   ///< false: a plain dim wall
  std::uint64_t seed = 1;
};
struct Picture {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;
};
[[nodiscard]] Picture render(const Lens& lens, std::uint64_t frame);
}  // namespace hb::standin
