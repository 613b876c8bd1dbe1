// Marks on several fields -> faults of the panel. Pure.
#include <algorithm>
#include <cmath>

#include "checks/kernel/gather.hpp"
#include "checks/panel/panel.hpp"

namespace hb::checks {
namespace {
using Fault = Panel::Fault;
constexpr Field kPrimaries[] = {Field::red, Field::green, Field::blue};

struct Placed {
  Mark mark;
  Field field;
};

/// A lit sub-pixel shows on black and on the other primaries, a dark one on white and on its own.
void name_dot(Fault& f) {
  f.kind = f.on(Field::black) ? Fault::Kind::bright_dot : Fault::Kind::dark_dot;
  int on = 0, off = 0;
  for (int i = 0; i < 3; ++i) (f.on(kPrimaries[i]) ? on : off) |= 1 << i;
  if (on == 0) return;
  f.sub_pixels = f.kind == Fault::Kind::bright_dot && off != 0 ? off : on;
}

Fault merged(const std::vector<Placed>& marks, MarkKind kind, const Panel::Display& d, double fold_zone_mm) {
  Fault f;
  double boxes = 0;
  const double n = static_cast<double>(marks.size());
  for (const Placed& p : marks) {
    f.x_mm += p.mark.x * d.width_mm / n, f.y_mm += p.mark.y * d.height_mm / n;
    f.seen[static_cast<std::size_t>(p.field)] = true;
    if (p.mark.w <= 0 || p.mark.h <= 0) continue;
    boxes += 1, f.w_mm += p.mark.w * d.width_mm, f.h_mm += p.mark.h * d.height_mm;
  }
  if (boxes > 0) f.w_mm /= boxes, f.h_mm /= boxes;
  if (kind == MarkKind::dot) name_dot(f);
  if (kind == MarkKind::column) f.kind = Fault::Kind::column;
  if (kind == MarkKind::row) f.kind = Fault::Kind::row;
  if (kind == MarkKind::patch) f.kind = Fault::Kind::patch;
  f.on_fold = d.fold_mm > 0 && kind != MarkKind::column && std::abs(f.y_mm - d.fold_mm) <= fold_zone_mm / 2;
  return f;
}
}  // namespace

std::vector<Fault> Panel::faults(const DisplayCapture& capture, const Display& d, const Config& config) {
  std::vector<Fault> out;
  for (int k = 0; k < kMarkKinds; ++k) {
    const auto kind = static_cast<MarkKind>(k);
    std::vector<Placed> placed;
    std::vector<kernel::Place> places;
    for (std::size_t i = 0; i < capture.fields.size(); ++i)
      for (const Mark& m : capture.marks[i]) {
        if (m.kind != kind) continue;
        placed.push_back({m, capture.fields[i]});
        places.push_back({kind == MarkKind::row ? 0 : m.x * d.width_mm,
                          kind == MarkKind::column ? 0 : m.y * d.height_mm,
                          static_cast<int>(capture.fields[i])});
      }
    // A patch has no sharp middle: twice as far.
    const double reach = (kind == MarkKind::patch ? 2 : 1) * config.same_place_mm;
    const std::vector<int> thing = kernel::gather(places, reach);
    const int count = thing.empty() ? 0 : *std::max_element(thing.begin(), thing.end()) + 1;
    for (int t = 0; t < count; ++t) {
      std::vector<Placed> its;
      for (std::size_t i = 0; i < thing.size(); ++i)
        if (thing[i] == t) its.push_back(placed[i]);
      out.push_back(merged(its, kind, d, config.fold_zone_mm));
    }
  }
  return out;
}
}  // namespace hb::checks
