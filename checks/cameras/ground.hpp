/// Light and colour of the chart's ground, tiles and trap, sampled where the map says they are. Pure.
#pragma once

#include <array>
#include <optional>

#include "checks/page_port.hpp"
#include "held.hpp"

namespace hb::checks::camera {

/// 64 to 20000 pixels a side, and all its pixels are there.
[[nodiscard]] bool is_whole(const Frame& frame) noexcept;

/// Frame to linear luminance (BT.709 weights), full size.
[[nodiscard]] kernel::Plane luminance(const Frame& frame);

struct Ground {
  double r = 0, g = 0, b = 0;  ///< mean linear light beside the middle tile
  double level = 0;            ///< its luminance
  double clipped = 0;          ///< share of ground pixels at full scale
  std::array<double, 4>
      corner{};            ///< light in the chart's corners over the level, less the fall that is even
                           ///< all round the frame's middle: that is the lens, wherever the chart is
  double slope = 0;        ///< light lost or won across the chart, if it changes evenly; else 0
  double spot = 0;         ///< how much the brightest place is over the others, at least 0
  double trap_ratio = 0;   ///< light in the trap over the ground beside it
  double tile_ratio = 0;   ///< light in the tiles over the ground beside them, median
  double tile_spread = 0;  ///< largest less smallest of these
};
/// nullopt: the chart's ground is not in the frame.
[[nodiscard]] std::optional<Ground> ground_of(const Frame& frame, const Chart& chart, const Held& held);

}  // namespace hb::checks::camera
