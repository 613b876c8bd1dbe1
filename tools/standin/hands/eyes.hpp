/// The eyes that go with the hands: what a careful look and a feeler gauge find on the closed housing.
/// Threads: pure.
#pragma once

#include <string_view>

#include "harness/base/result.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
/// `sight`: a name of checks/hands.hpp's Sight. invalid_argument: no such sight or part.
[[nodiscard]] Result<double> look(const Unit& unit, std::string_view sight, std::string_view part);
}  // namespace hb::standin
