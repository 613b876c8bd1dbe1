#include "judge.hpp"

namespace hb::checks::camera {

void measure_light(const Cameras::CameraCapture& c, const Cameras::Camera& camera, Measured& out) {
  if (!camera.light) return;
  const auto gain = light_gain(c.light);
  if (gain && covered(c.light)) {
    out.measures.push_back({"cameras.light_gain", camera.name, gain->value, gain->u, "1", gain->frames});
    return;
  }
  out.missing = !c.light.offered
                    ? Term(
                          "the phone's browser does not let the bench switch the camera's light: use another "
                          "browser, or leave the light out of the profile")
                    : Term(
                          "a camera's light could not be looked at: cover the camera and its light with a "
                          "finger and keep it there");
}
}  // namespace hb::checks::camera
