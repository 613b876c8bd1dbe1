/// Shared by measure() and diagnose(). Pure.
#pragma once

#include "checks/cameras/cameras.hpp"

namespace hb::checks::camera {
/// The camera's capture by name; nullptr if there is none.
[[nodiscard]] const Cameras::CameraCapture* capture_of(const Cameras::Capture& c,
                                                       const Cameras::Camera& camera);
/// Cameras of one side: as the page counts them (-1: not reported), and as the profile does, up to its
/// highest index.
[[nodiscard]] int reachable(const Cameras::Capture& c, Facing facing) noexcept;
[[nodiscard]] int expected(const Cameras::Config& config, Facing facing) noexcept;
/// A browser numbers the cameras that it finds. When some of a side are missing, and not all, a picture from
/// that side belongs to nobody knows which: none is taken.
[[nodiscard]] bool counted_anew(const Cameras::Capture& c, const Cameras::Config& config,
                                Facing facing) noexcept;
/// What the camera's frames say of its pixels.
[[nodiscard]] std::vector<PixelLook> looks_of(const Cameras::CameraCapture& c);
[[nodiscard]] Standing standing(const Cameras::CameraCapture& c, const Cameras::Camera& camera);
/// A measured frame has five readable tiles with whole curves; a present camera has frames; a second
/// aim speaks of each spot that stayed.
[[nodiscard]] bool well_formed(const Cameras::CameraCapture& c);
/// The measures of a camera's focus, if they can be had; else why not goes into `out.missing`.
void measure_focus(const Cameras::CameraCapture& c, const Cameras::Camera& camera, const Chart& chart,
                   Measured& out);
/// The same for its light.
void measure_light(const Cameras::CameraCapture& c, const Cameras::Camera& camera, Measured& out);
}  // namespace hb::checks::camera
