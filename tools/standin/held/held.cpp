#include "tools/standin/held/held.hpp"

#include <array>

#include "tools/standin/physics/noise.hpp"

namespace hb::standin {
namespace {
using Spoil = void (*)(Lens&);
constexpr std::array<Spoil, 9> kSpoils{
    [](Lens& l) { l.pose.scale = 0.42; },
    [](Lens& l) { l.pose.scale = 1.35; },
    [](Lens& l) { l.pose.yaw_deg = l.pose.yaw_deg < 0 ? -24 : 24, l.pose.scale = 0.65; },
    [](Lens& l) { l.pose.pitch_deg = l.pose.pitch_deg < 0 ? -24 : 24, l.pose.scale = 0.65; },
    [](Lens& l) { l.pose.roll_deg = l.pose.roll_deg < 0 ? -22 : 22, l.pose.scale = 0.65; },
    [](Lens& l) { l.shake_px = 9, l.tremor_px = 4; },
    [](Lens& l) { l.exposure = 0.04; },
    [](Lens& l) { l.reflection = 0.6, l.exposure = 0.55; },
    [](Lens& l) { l.pose.shift_x = l.pose.shift_x < 0 ? -0.3 : 0.3; }};
}  // namespace

void hold(Lens& lens, const Unit& unit, int hal_id, int aims, bool first) {
  const Noise spread(unit.seed, "hold");
  const auto n = static_cast<std::uint64_t>(1000 * hal_id + 20 * aims);
  Pose& p = lens.pose;
  p.yaw_deg = spread.uniform(n, -8, 8), p.pitch_deg = spread.uniform(n + 1, -8, 8);
  p.roll_deg = spread.uniform(n + 2, -8, 8);
  p.scale = spread.uniform(n + 3, 0.62, 0.92);
  p.shift_x = spread.uniform(n + 4, -0.03, 0.03), p.shift_y = spread.uniform(n + 5, -0.03, 0.03);
  p.distortion = spread.uniform(static_cast<std::uint64_t>(hal_id) + 900000, -0.015, 0.015);
  lens.light_slope = spread.uniform(n + 6, -0.06, 0.06);
  lens.tremor_px = 0.2;
  const double badly = unit.faults.degree(Fault::chart_held_badly);
  if (badly >= 1 || (badly > 0 && first)) kSpoils[unit.seed % kSpoils.size()](lens);
}

Lens lens_of(const Unit& unit, const LensUnit& camera, bool in_view, int aims, bool first) {
  Lens lens;
  lens.focus = camera.focus;
  lens.lamp = camera.lamp;
  lens.blur_px = camera.blur_px, lens.tilt_px = camera.tilt_px;
  lens.haze = camera.haze, lens.shading = camera.shading;
  lens.white = camera.white;
  lens.stuck = camera.stuck;
  lens.chart_in_view = in_view;
  lens.seed = mixed(unit.seed ^ mixed(static_cast<std::uint64_t>(camera.spec.hal_id)));
  if (in_view) hold(lens, unit, camera.spec.hal_id, aims, first);
  return lens;
}

Lens covered_lens(const Unit& unit, const LensUnit& camera) {
  Lens lens = lens_of(unit, camera, false, 0, true);
  lens.lamp.covered = true;
  return lens;
}
}  // namespace hb::standin
