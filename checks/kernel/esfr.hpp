/// Edge-based spatial frequency response (e-SFR) of a slanted edge, after ISO 12233 (2014 and later).
/// Steps: linear light in; the edge's position in each line as the Hamming-weighted centroid of the
/// derivative
/// [-1/2, 0, 1/2]; a straight line through the positions; pixels projected on the edge's normal into bins of
/// 1/4 pixel; the line-spread function as [-1/2, 0, 1/2] of that; a Hamming window centred on its peak; the
/// modulus of its DFT, 1 at zero frequency; divided by the response of the difference filter (correction
/// capped at 10) and, beyond the standard, of the 1/4-pixel bin, sin(pi f / 4) / (pi f / 4).
/// Frequencies are cycles per pixel along the edge's normal. Threads: any.
#pragma once

#include <vector>

#include "harness/base/result.hpp"

namespace hb::kernel {

/// A plane of linear light, row major, top left first.
struct Plane {
  int width = 0, height = 0;
  std::vector<float> values;
  [[nodiscard]] float at(int x, int y) const noexcept {
    return values[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                  static_cast<std::size_t>(x)];
  }
};

/// MTF50 of a Gaussian edge of sigma s pixels is this over s: sqrt(2 ln 2) / (2 pi).
inline constexpr double kGaussianMtf50 = 0.187390625;

struct Esfr {
  std::vector<double> frequency;  ///< cycles per pixel, 0 .. 1
  std::vector<double> response;   ///< 1 at zero frequency
  double mtf50_cpp = 0;           ///< first frequency at which the response falls to one half
  double u_mtf50_cpp = 0;         ///< jackknife over groups of lines, the window, the method's own error
  double angle_deg = 0;           ///< of the edge against the nearer pixel axis, sign kept
  bool near_vertical = true;      ///< the edge runs mostly up and down
  double contrast = 0;            ///< (light - dark) / (light + dark), Michelson
  double fit_rms_px = 0;          ///< how straight the edge is
  int lines = 0;
};

/// Relative error of the whole method on analytic edges, as a standard uncertainty: measured on rendered
/// Gaussian edges of sigma 0.5 to 3 px, 3 to 8 degrees (tests/checks/kernel).
inline constexpr double kEsfrMethodRelative = 0.004;

/// The region must hold one edge between two even fields, at least 20 lines along it and 20 pixels across.
/// Width across matters: the Hamming window raises MTF50 by about 9 sigma^2 / width^2 of itself, so a
/// soft edge wants a wide region. Errors, all invalid_argument: too small; no contrast (below 0.05); the
/// edge is not straight or leaves the region; the slant is outside 1 to 30 degrees; the response never falls
/// to one half.
[[nodiscard]] Result<Esfr> esfr(const Plane& region);

/// Response at `f` by linear interpolation; 0 beyond the curve.
[[nodiscard]] double response_at(const Esfr& e, double f) noexcept;

}  // namespace hb::kernel
