/// Finding the chart in a frame: which dark patches are its tiles. Pure; any thread.
#pragma once

#include <array>
#include <optional>

#include "chart.hpp"
#include "checks/kernel/esfr.hpp"

namespace hb::checks::camera {

/// Middles of the tiles in frame pixels, about a tenth of a tile's side near, in the order of Chart if the
/// chart is the right way up; it may as well be upside down.
struct Rough {
  std::array<kernel::Point, 5> middle;
};
struct Found {
  std::optional<Rough> chart;
  bool cut_off = false;  ///< not found, and what looks like its tiles leaves the frame
};
/// The chart at 0.25 to about 1.3 times the frame's height, turned in any way, tilted by up to some 30
/// degrees, in light that changes slowly over the frame. Source of the threshold: our choice, 0.7 of the
/// brightest place near by.
[[nodiscard]] Found locate(const kernel::Plane& light, const Chart& chart);

}  // namespace hb::checks::camera
