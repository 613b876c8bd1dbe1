/// Which spots of a camera's frames are its own: they stand still in the picture while the chart moves in it.
/// Pure; any thread.
#pragma once

#include <span>
#include <vector>

#include "checks/cameras/spots.hpp"
#include "checks/kernel/homography.hpp"

namespace hb::checks::camera {

/// One measured frame.
struct PixelLook {
  Spots spots;
  kernel::Homography map;  ///< chart heights to pixels
};
/// A measured frame of a second aim, asked what stands where spots stayed in the first one.
struct Elsewhere {
  kernel::Homography map;
  std::vector<AtPlace> at;  ///< in the order of staying()
};
void to_json(nlohmann::json& j, const PixelLook& l);
void from_json(const nlohmann::json& j, PixelLook& l);
void to_json(nlohmann::json& j, const Elsewhere& e);
void from_json(const nlohmann::json& j, Elsewhere& e);

/// The first frame's spots that every frame of the take shows, at the same place (a pixel off at most) and on
/// the same side of their neighbourhood.
[[nodiscard]] std::vector<Spot> staying(std::span<const PixelLook> take);

/// How far what is seen at `place` in one frame has moved in another, pixels; not finite: a map that cannot
/// be turned round. Beside the chart it is what the chart's plane would do.
[[nodiscard]] double moved_px(const kernel::Homography& one, const kernel::Homography& other,
                              kernel::Point place) noexcept;

struct Standing {
  int on_sensor = 0;      ///< stood still while the scene moved by `kTold_px` at least
  int undecided = 0;      ///< nothing moved, or the second aim could not tell: of the camera, or of the chart
  double chance = 0;      ///< how many would stay by chance, from the number of spots that were seen
  double searched = 0;    ///< share of the picture, mean of the frames
  double u_searched = 0;  ///< standard deviation of that share, binomial
};
inline constexpr double kTold_px = 3;
/// Precondition: each look elsewhere speaks of all staying(take). Chance: spots lie anywhere in the searched
/// part of width x height, each frame's by itself; nine places count as the same, so that of n1 spots
/// n1 (9 n2 / N) (9 n3 / N) ... stay.
[[nodiscard]] Standing standing(std::span<const PixelLook> take, std::span<const Elsewhere> elsewhere,
                                int width, int height);

/// So many undecided ones are worth a second aim. Our choice: under the limits of common practice.
inline constexpr int kAimAgainFrom = 3;
/// Less of the picture is not searched enough to count. Common practice, no source.
inline constexpr double kLeastSearched = 0.20;
}  // namespace hb::checks::camera
