#include "tools/standin/hands/eyes.hpp"

#include <algorithm>
#include <cmath>

#include "harness/base/text.hpp"

namespace hb::standin {
namespace {
constexpr double kGaugeStep_mm = 0.05;  // the leaves of the feeler gauge

template <class T>
const T* part_of(const std::vector<T>& all, std::string_view part) {
  const auto it = std::find_if(all.begin(), all.end(), [&](const T& x) { return x.part == part; });
  return it == all.end() ? nullptr : &*it;
}
}  // namespace

Result<double> look(const Unit& unit, std::string_view sight, std::string_view part) {
  if (sight == "buzzed") return unit.motor.open ? 0 : 1;
  if (sight == "screws") {
    if (const auto* s = part_of(unit.housing.screws, part)) return s->count;
  } else if (const auto* c = part_of(unit.housing.covers, part)) {
    if (sight == "widest_gap") return std::floor(c->gap_mm / kGaugeStep_mm) * kGaugeStep_mm;
    if (sight == "seated") return c->seated ? 1 : 0;
    if (sight == "colour_agreed") return c->colour_agreed ? 1 : 0;
    if (sight == "new_adhesive") return c->new_adhesive ? 1 : 0;
  }
  return Error{ErrorCode::invalid_argument, "there is nothing of this name to look at", printable(part, 40),
               "Sights are named in checks/hands.hpp; parts are those of the model."};
}
}  // namespace hb::standin
