#include <cmath>

#include "judge.hpp"

namespace hb::checks::camera {
namespace {
// The camera's view, its entrance pupil's place and the chart's size in the frame: relative, common practice,
// no source.
constexpr double kDistance_u = 0.05;

double mean_scale(const std::vector<Cameras::FrameNumbers>& frames) {
  double sum = 0;
  for (const auto& f : frames) sum += f.scale;
  return sum / static_cast<double>(frames.size());
}
}  // namespace

void measure_focus(const Cameras::CameraCapture& c, const Cameras::Camera& camera, const Chart& chart,
                   Measured& out) {
  if (!camera.focus) return;
  const auto fit = fit_focus(c.focus.frames);
  if (!fit) {
    out.missing =
        c.focus.offered
            ? Term(
                  "the chart was lost while a camera's focus was moved: rest the phone on something "
                  "and hold still")
            : Term(
                  "the phone's browser does not let the bench set a camera's focus: use another "
                  "browser, or leave the focus out of the profile");
    return;
  }
  const auto add = [&](Term key, double value, double u, Term unit) {
    out.measures.push_back({key, camera.name, value, u, unit, fit->frames});
  };
  add("cameras.focus_px_per_dpt", fit->px_per_dpt, fit->u_px_per_dpt, "px/dpt");
  if (!fit->best_dpt) return;
  add("cameras.focus_best_dpt", *fit->best_dpt, fit->u_best_dpt, "dpt");
  const double there = chart_dpt(chart, mean_scale(c.frames), camera.width, camera.height, camera.view_deg);
  if (there > 0)
    add("cameras.focus_error_dpt", *fit->best_dpt - there, std::hypot(fit->u_best_dpt, kDistance_u * there),
        "dpt");
}
}  // namespace hb::checks::camera
