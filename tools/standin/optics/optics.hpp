/// What a camera of the stand-in sees: the bench's chart through a lens with blur, tilt, shading, haze and
/// sensor noise, rendered to 8-bit sRGB (IEC 61966-2-1). Deterministic by seed and frame. Threads: pure.
///
/// The chart, printed 4:3 (fractions of its width and height, x right, y down): light neutral paper, linear
/// reflectance 0.72; five dark tiles (linear 0.18, edge contrast 4:1 as ISO 12233:2014 asks) centred at
/// (0.50,0.50) (0.15,0.17) (0.85,0.17) (0.15,0.83) (0.85,0.83), each a square of side 0.16 of the height
/// whose four sides lean by 7 degrees about their middles, opposite sides opposite ways: narrower at the top
/// and at the left; a black trap (linear 0.02), side 0.10 of the height, upright, centred at (0.50,0.17), for
/// veiling glare. The paper goes on for 0.04 of the height on all sides; then comes a wall, linear 0.40.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "tools/standin/optics/focus.hpp"
#include "tools/standin/optics/pose.hpp"

namespace hb::standin {
/// A pixel of the sensor that always, or never, gives full light. Its colour is that of its place in the
/// filter mosaic (red and green in even rows, green and blue in odd ones, red first).
struct StuckPixel {
  double x = 0, y = 0;  ///< fractions of the frame
  bool bright = false;
  friend bool operator==(const StuckPixel&, const StuckPixel&) = default;
};
/// The camera's own light, as its lens sees it through a finger over both: red, since skin swallows the rest.
struct Lamp {
  bool listed = false, on = false, covered = false;
  double leaks = 0;   ///< red light of the room through the finger, at the exposure's end; full scale is 1
  double shines = 0;  ///< red light that the lamp adds
  friend bool operator==(const Lamp&, const Lamp&) = default;
};
struct Lens {
  bool present = true;
  Lamp lamp;
  int width = 1280, height = 960;
  double blur_px = 0.7;  ///< Gaussian sigma at the centre of the frame, of the whole system: the pixel's own
                         ///< aperture (a 1 px box, variance 1/12 px^2) is inside it; never below 0.289
  Focus focus;           ///< blur_px is what is left in focus
  double tilt_px = 0;    ///< sigma added at the right edge, falling linearly to 0 at the left
  double corner_px = 0.15;  ///< sigma added at the corners (field curvature), growing with r^2
  double haze = 0;          ///< veiling glare: this fraction of the mean scene light added
  double shading = 0.18;    ///< light lost at the corners, symmetric
  double noise_sd =
      0.004;               ///< linear light, at full scale; variance falls with the light to a tenth in black
  double exposure = 0.85;  ///< background's linear value after auto exposure
  std::array<double, 3> white{1.0, 1.0, 1.0};  ///< channel gains left over after auto white balance
  bool chart_in_view = true;                   ///< false: a plain wall at a quarter of the exposure
  Pose pose;
  double shake_px = 0, shake_deg = 0;  ///< movement while a frame is taken: length and direction
  double tremor_px = 0;                ///< the picture wanders by up to so much each way from frame to frame
  double light_slope = 0;              ///< of the lamp's light from left to right, 0.1: +-5 %
  double reflection = 0;  ///< light of a lamp mirrored in the chart, over the paper's; a spot right of the
                          ///< middle, 0.05 frame heights wide (sd)
  std::vector<StuckPixel> stuck;
  std::uint64_t seed = 1;
  friend bool operator==(const Lens&, const Lens&) = default;
};
struct Picture {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;
};
/// 1 / the distance in metres at which a pinhole of this view sees the chart in this size; the chart is as
/// high as A3 paper allows, 0.255 m.
[[nodiscard]] double chart_dpt(const Lens& lens) noexcept;
/// The local Gaussian sigma in pixels at a place of the frame (x, y in pixels from the top left corner).
[[nodiscard]] double local_sigma_px(const Lens& lens, double x, double y) noexcept;
/// Precondition: 16 <= width, height <= 8192; an absent lens renders as black.
[[nodiscard]] Picture render(const Lens& lens, std::uint64_t frame);
}  // namespace hb::standin
