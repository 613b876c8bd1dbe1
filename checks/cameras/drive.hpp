/// Pictures for which the bench drives the camera. Threads: the phone's strand.
#pragma once

#include "checks/cameras/cameras.hpp"

namespace hb::checks::camera {
/// Waits for a deed for up to two minutes of bench time; false: it was not done by then.
[[nodiscard]] net::awaitable<Result<bool>> follow_operator(Context& context, Action action);
/// The chart at several settings of the focus; once more when it was lost meanwhile. An error ends the check;
/// a browser that cannot set the focus is an answer. `context` outlives the call.
[[nodiscard]] net::awaitable<Result<FocusCapture>> look_at_focus(Context& context, Cameras::Camera camera,
                                                                 Chart chart);
/// A finger over the camera and its light, pictures without the light, with it, and without it again; once
/// more before a light is called dark. Errors: as look_at_focus().
[[nodiscard]] net::awaitable<Result<LightCapture>> look_at_light(Context& context, Cameras::Camera camera);
}  // namespace hb::checks::camera
