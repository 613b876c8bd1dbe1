/// Shared by measure() and diagnose(). Pure.
#pragma once

#include "checks/cameras/cameras.hpp"

namespace hb::checks::camera {
/// The camera's capture by name; nullptr if there is none.
[[nodiscard]] const Cameras::CameraCapture* capture_of(const Cameras::Capture& c,
                                                       const Cameras::Camera& camera);
/// A measured frame has five readable squares with whole curves; a present camera has frames.
[[nodiscard]] bool well_formed(const Cameras::CameraCapture& c);
}  // namespace hb::checks::camera
