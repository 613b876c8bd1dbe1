/// Finding the chart in a frame. Pure; any thread.
#pragma once

#include <array>
#include <complex>
#include <optional>
#include <vector>

#include "checks/cameras/cameras.hpp"
#include "checks/kernel/esfr.hpp"

namespace hb::checks::camera {

/// Frame to linear luminance (BT.709 weights), full size.
[[nodiscard]] kernel::Plane luminance(const Frame& frame);

/// Where the chart lies: a similarity from chart positions to pixels, and the centres as found.
struct Located {
  std::complex<double> turn{1, 0};  ///< scale and rotation, frame pixels per chart pixel
  std::complex<double> origin;      ///< pixel of the chart's middle
  std::array<std::complex<double>, 5> centre;
  double frame_w = 0, frame_h = 0;
  /// Pixel of a chart position (fractions of width and height).
  [[nodiscard]] std::complex<double> at(double x, double y) const noexcept {
    return origin + turn * std::complex<double>((x - 0.5) * frame_w, (y - 0.5) * frame_h);
  }
  [[nodiscard]] double scale() const noexcept { return std::abs(turn); }
};
[[nodiscard]] std::optional<Located> locate(const kernel::Plane& light, const Cameras::Chart& chart);

}  // namespace hb::checks::camera
