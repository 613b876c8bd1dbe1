/// What became of a picture of the bench's chart: measured, or why not and what to change. Checks tell it to
/// the hands (PointAtChart) and to the record. Pure; any thread.
#pragma once

#include "harness/base/gate.hpp"

namespace hb::checks {

enum class ChartSeen {
  measured,
  no_chart,          ///< the five tiles are not to be seen
  too_dark,          ///< the ground is under 10 % of full scale
  too_bright,        ///< more than 2 % of the ground is clipped
  edges_unreadable,  ///< tiles found, edges not: very soft, or something in front
  wrong_size,        ///< the camera gave another resolution than the profile asks
  too_far,
  too_near,
  cut_off,          ///< a tile leaves the frame
  right_side_away,  ///< tilted: the chart's right side, as seen, is farther away than its left
  left_side_away,
  lower_side_away,
  upper_side_away,
  rolled,
  moved,  ///< blurred by movement
  uneven_light,
  reflection,  ///< a lamp is mirrored in the chart
  spots_stay   ///< nothing wrong, but spots stood still: another aim tells the chart's from the camera's
};
inline constexpr int kChartSeen = 18;

/// "what: what to change", in plain words.
[[nodiscard]] Term to_change(ChartSeen seen) noexcept;

}  // namespace hb::checks
