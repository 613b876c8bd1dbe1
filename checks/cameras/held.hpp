/// How the chart lies in front of the camera: tiles outlined to a fraction of a pixel, the projective map
/// from chart to frame, and the pose that it means. Pixels stay where they are: regions are mapped, never
/// pictures. Pure; any thread.
#pragma once

#include <array>
#include <optional>

#include "locate.hpp"

namespace hb::checks::camera {

struct Pose {
  double scale = 0;      ///< chart's height over the frame's, at the chart's middle
  double yaw_deg = 0;    ///< above 0: its right side, as seen, is farther away
  double pitch_deg = 0;  ///< above 0: its lower side, as seen, is farther away
  double roll_deg = 0;   ///< clockwise as seen, -90 to 90
  bool upside_down = false;
};

struct Held {
  kernel::Homography map;                              ///< chart position (chart heights) to frame pixels
  std::array<std::array<kernel::Point, 4>, 5> corner;  ///< as seen, in the order of camera::corners()
  double rms_px = 0;                                   ///< of the corners about the map
  Pose pose;
  /// How large one chart height is in pixels at a chart position.
  [[nodiscard]] double size_px(kernel::Point chart) const noexcept;
};

/// nullopt: a side of a tile cannot be read, or the corners do not fit a flat chart. `view_deg`: what the
/// camera sees over the frame's width; yaw and pitch are about proportional to 1 / tan of half of it.
/// Pose from the map: Zhang 2000, section 3.1, with the camera's matrix known (from memory).
[[nodiscard]] std::optional<Held> outline(const kernel::Plane& light, const Chart& chart, const Rough& rough,
                                          double view_deg);

/// The pose that a map means, in a frame of this size.
[[nodiscard]] Pose pose_of(const kernel::Homography& map, int width, int height, double view_deg) noexcept;

}  // namespace hb::checks::camera
