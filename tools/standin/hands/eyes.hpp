/// The eyes that go with the hands: what a careful look and a feeler gauge find on the closed housing, and
/// what is marked on a panel that shows one field. Threads: pure.
#pragma once

#include <string_view>
#include <vector>

#include "harness/base/result.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
/// `sight`: a name of checks/action/action.hpp's Inspection. invalid_argument: no such name or part.
[[nodiscard]] Result<double> look(const Unit& unit, std::string_view sight, std::string_view part);

/// A mark on a panel: place in fractions of it, a box's sides for a patch.
struct SeenMark {
  Flaw kind = Flaw::dot;
  double x = 0, y = 0, w = 0, h = 0;
};
inline constexpr double kFinger_mm = 1.7;  ///< standard deviation of a tap, in x and in y
/// What a careful technician marks on a field of the phone's page: each flaw of at least kJustSeen, where the
/// finger falls. A tap that would take an earlier mark away is made again; one that the touch layer does not
/// feel leaves no mark.
[[nodiscard]] std::vector<SeenMark> mark_field(const Unit& unit, std::size_t panel, std::string_view field);
}  // namespace hb::standin
