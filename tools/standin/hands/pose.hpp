/// How the phone lies: what points up, in the phone's own axes (x right, y top edge, z out of the screen),
/// and the way from one face to another. Pure; any thread.
#pragma once

#include <cstdint>

#include "tools/standin/physics/motion.hpp"

namespace hb::standin {
/// Face 1..6 (checks/action/action.hpp, Face), as a hand lays it: up to 1 degree off, by seed and face.
[[nodiscard]] Axes face_up(int face, std::uint64_t seed) noexcept;

struct Turning {
  Axes up{};
  Axes rate_rad_s{};  ///< what a gyroscope in the phone reads
};
/// The shortest turn, smooth at both ends, at fraction `u` of its `seconds`.
[[nodiscard]] Turning turned(const Axes& from, const Axes& to, double u, double seconds) noexcept;
}  // namespace hb::standin
