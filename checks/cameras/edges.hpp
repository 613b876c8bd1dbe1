/// The slanted edges of a frame, as they lie in it: which pixels go into the slanted-edge response.
/// Pure; any thread.
#pragma once

#include <vector>

#include "held.hpp"

namespace hb::checks::camera {

struct Edge {
  std::size_t tile = 0;
  std::size_t side = 0;        ///< as corners()
  bool near_vertical = false;  ///< as seen
  double slant_deg = 0;        ///< against the nearer pixel axis, as seen
};
/// Per tile the two edges that run mostly up and down if their slant is within `kLeastSlant_deg` and
/// `kMostSlant_deg` (one at least is, for a chart within the stated pose), and of the two others the one
/// whose slant is best.
[[nodiscard]] std::vector<Edge> usable_edges(const Held& held);
inline constexpr double kLeastSlant_deg = 2, kMostSlant_deg = 20;

/// The pixels about an edge's middle, clear of the tile's other sides. Empty: less than 20 pixels across or
/// along are left.
[[nodiscard]] kernel::Plane region(const kernel::Plane& light, const Held& held, const Edge& edge);

}  // namespace hb::checks::camera
