#include "tools/standin/hands/eyes.hpp"

#include <algorithm>
#include <cmath>
#include <string>

#include "harness/base/text.hpp"
#include "tools/standin/physics/noise.hpp"

namespace hb::standin {
namespace {
constexpr double kGaugeStep_mm = 0.05;  // the leaves of the feeler gauge
constexpr double kTakesAway_mm = 4;     // the page takes a mark away by a tap so near to it

template <class T>
const T* part_of(const std::vector<T>& all, std::string_view part) {
  const auto it = std::find_if(all.begin(), all.end(), [&](const T& x) { return x.part == part; });
  return it == all.end() ? nullptr : &*it;
}

class Finger {
 public:
  Finger(const Unit& unit, std::size_t panel, std::string_view field)
      : spec_(unit.looks[panel].spec),
        noise_(mixed(unit.seed ^ mixed(panel)), std::string("finger on ") + std::string(field)) {}
  double along_x(double x_mm) { return miss(x_mm, spec_.width_mm); }
  double along_y(double y_mm) { return miss(y_mm, spec_.height_mm); }

 private:
  double miss(double at_mm, double size_mm) {
    return std::clamp((at_mm + kFinger_mm * noise_.gauss(n_++)) / size_mm, 0.0, 1.0);
  }
  const PanelSpec& spec_;
  Noise noise_;
  std::uint64_t n_ = 0;
};

SeenMark tapped(const PanelFlaw& f, Finger& finger) {
  SeenMark m{f.kind, finger.along_x(f.x_mm), finger.along_y(f.y_mm), 0, 0};
  if (f.kind != Flaw::patch) return m;
  const double x0 = finger.along_x(f.x_mm - f.w_mm / 2), x1 = finger.along_x(f.x_mm + f.w_mm / 2);
  const double y0 = finger.along_y(f.y_mm - f.h_mm / 2), y1 = finger.along_y(f.y_mm + f.h_mm / 2);
  return {f.kind, (x0 + x1) / 2, (y0 + y1) / 2, std::abs(x1 - x0), std::abs(y1 - y0)};
}
}  // namespace

std::vector<SeenMark> mark_field(const Unit& unit, std::size_t panel, std::string_view field) {
  const PanelLook& look = unit.looks.at(panel);
  const double w = look.spec.width_mm, h = look.spec.height_mm;
  Finger finger(unit, panel, field);
  std::vector<SeenMark> marks;
  const auto takes_away = [&](const SeenMark& m) {
    return std::any_of(marks.begin(), marks.end(), [&](const SeenMark& other) {
      return other.kind == m.kind && std::hypot((m.x - other.x) * w, (m.y - other.y) * h) <= kTakesAway_mm;
    });
  };
  for (const PanelFlaw& f : look.flaws) {
    if (contrast(look, f, field) < kJustSeen) continue;
    SeenMark m = tapped(f, finger);
    for (int again = 0; takes_away(m) && again < 5; ++again) m = tapped(f, finger);
    const auto& dead = unit.panels.at(panel).dead;
    const bool felt = std::none_of(dead.begin(), dead.end(),
                                   [&](const DeadZone& z) { return z.contains(m.x * w, m.y * h); });
    if (felt) marks.push_back(m);
  }
  return marks;
}

Result<double> look(const Unit& unit, std::string_view sight, std::string_view part) {
  if (sight == "buzzed") return unit.motor.open ? 0 : 1;
  if (sight == "sim_in") return unit.radio.sim_in ? 1 : 0;
  if (sight == "nfc_on") return 1;
  if (sight == "screws") {
    if (const auto* s = part_of(unit.housing.screws, part)) return s->count;
  } else if (const auto* c = part_of(unit.housing.covers, part)) {
    if (sight == "widest_gap") return std::floor(c->gap_mm / kGaugeStep_mm) * kGaugeStep_mm;
    if (sight == "seated") return c->seated ? 1 : 0;
    if (sight == "colour_agreed") return c->colour_agreed ? 1 : 0;
    if (sight == "new_adhesive") return c->new_adhesive ? 1 : 0;
  }
  return Error{ErrorCode::invalid_argument, "there is nothing of this name to look at", printable(part, 40),
               "Inspections are named in checks/action/action.hpp; parts are those of the model."};
}
}  // namespace hb::standin
