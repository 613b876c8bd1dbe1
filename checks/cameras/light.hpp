/// Whether a camera's light shines, by what of it comes through a finger over both. Pure; any thread.
#pragma once

#include <optional>
#include <vector>

#include "checks/page_port.hpp"

namespace hb::checks::camera {

/// Mean linear light of a picture, 1 is full scale.
struct LightLevel {
  double red = 0, green = 0, blue = 0;
};
struct LightCapture {
  bool offered = false;                        ///< the browser switches this camera's light
  std::vector<LightLevel> before, lit, after;  ///< after: when it is off again
};

/// Total: nothing but noughts for a torn picture.
[[nodiscard]] LightLevel read_light(const Frame& frame);
/// Levels are finite and within 0..1.
[[nodiscard]] bool well_formed(const LightCapture& capture);
/// A finger lets red light through and next to no green: what is bright and not red was not covered.
[[nodiscard]] bool covered(const LightCapture& capture);

struct LightGain {
  double value = 0, u = 0;  ///< of full scale
  int frames = 0;
};
/// Red light with the camera's light on less without it. Lit is the mean of the two brightest pictures, since
/// a light takes a moment to start and the exposure may make up for it a moment later; unlit is the brighter
/// of before and after, so that an exposure that was still opening is not taken for a light. Red, because
/// skin swallows the rest. u: scatter of both, and 0.01 for the sensor's own floor (our choice). nullopt:
/// pictures are missing, or too bright without the light.
[[nodiscard]] std::optional<LightGain> light_gain(const LightCapture& capture);

void to_json(nlohmann::json& j, const LightCapture& c);
void from_json(const nlohmann::json& j, LightCapture& c);

}  // namespace hb::checks::camera
