/// A unit's cameras in front of the bench's chart, held by simulated hands. Pure.
#pragma once

#include <cstdint>

#include "tools/standin/optics/optics.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
/// Moderate tilt, roll, distance and place, a little uneven light and tremor, by unit, camera and how many
/// times a camera was aimed before. With `chart-held-badly` something is wrong with every aim, by unit; with
/// a degree below 1 with the first aim at each camera only. `first`: the last aim was at another camera.
void hold(Lens& lens, const Unit& unit, int hal_id, int aims, bool first);
/// What a camera of the unit sees; `in_view`: it was aimed at the chart.
[[nodiscard]] Lens lens_of(const Unit& unit, const LensUnit& camera, bool in_view, int aims, bool first);
/// The same camera under a finger, its light too.
[[nodiscard]] Lens covered_lens(const Unit& unit, const LensUnit& camera);
}  // namespace hb::standin
