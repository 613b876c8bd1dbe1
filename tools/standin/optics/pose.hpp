/// How the bench's chart lies in front of a camera: a pinhole with a little radial distortion. Pure.
/// Frame pixels from the top left corner, x right, y down; chart positions in chart heights from its middle.
#pragma once

#include <array>
#include <cmath>

namespace hb::standin {
/// Defaults: square to the chart, which fills the frame's height. Axes: x right, y down, z away.
struct Pose {
  double yaw_deg = 0;               ///< about the vertical: above 0 the chart's right side is farther away
  double pitch_deg = 0;             ///< about the horizontal: above 0 its lower side is farther away
  double roll_deg = 0;              ///< about the line of sight, clockwise as seen; 180: upside down
  double scale = 1;                 ///< chart height over frame height, at the chart's middle
  double shift_x = 0, shift_y = 0;  ///< of the chart's middle, in frame heights
  double view_deg = 68;             ///< of the camera over the frame's width
  double distortion = 0;  ///< an undistorted radius is r (1 + distortion r^2), r over the half diagonal
  friend bool operator==(const Pose&, const Pose&) = default;
};

using Spot = std::array<double, 2>;

/// The pose in one frame size.
class View {
 public:
  View(const Pose& pose, int width, int height);
  /// Where a chart position is seen without distortion.
  [[nodiscard]] Spot straight(Spot chart) const noexcept;
  /// Where it is seen.
  [[nodiscard]] Spot seen(Spot chart) const noexcept;
  /// Undistorted place of a frame pixel.
  [[nodiscard]] Spot undistorted(Spot p) const noexcept {
    if (k_ == 0) return p;
    const double dx = p[0] - cx_, dy = p[1] - cy_, m = 1 + k_ * (dx * dx + dy * dy) / r2_;
    return {cx_ + dx * m, cy_ + dy * m};
  }
  /// Blur does not know of distortion: how many undistorted pixels along the unit vector `n` are one pixel.
  [[nodiscard]] double stretch(Spot p, Spot n) const noexcept {
    if (k_ == 0) return 1;
    const double dx = p[0] - cx_, dy = p[1] - cy_, m = 1 + k_ * (dx * dx + dy * dy) / r2_;
    const double along = 2 * k_ * (n[0] * dx + n[1] * dy) / r2_;
    const double x = m * n[0] + along * dx, y = m * n[1] + along * dy;
    return std::sqrt(x * x + y * y);
  }
  /// The undistorted line through two seen chart positions: unit normal and offset, positive to the right of
  /// the way from `a` to `b` as seen.
  [[nodiscard]] std::array<double, 3> line(Spot a, Spot b) const noexcept;
  [[nodiscard]] bool distorts() const noexcept { return k_ != 0; }

 private:
  double cx_, cy_, r2_, k_;
  std::array<double, 9> h_{};
};
}  // namespace hb::standin
