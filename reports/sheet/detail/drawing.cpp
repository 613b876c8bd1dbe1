#include "drawing.hpp"

#include <cmath>
#include <numbers>

namespace hb::sheet {
namespace {
Pen filled(Colour c) { return Pen{.fill = c, .stroke = -1, .width = 0, .dash = {}}; }
Pen stroked(Colour c, double width, std::vector<double> dash = {}) {
  return Pen{.fill = -1, .stroke = c, .width = width, .dash = std::move(dash)};
}

Line polygon(double cx, double cy, double r, int corners, double turn) {
  Line l;
  l.closed = true;
  for (int i = 0; i < corners; ++i) {
    const double a = turn + 2 * std::numbers::pi * i / corners;
    l.points.push_back({cx + r * std::cos(a), cy + r * std::sin(a)});
  }
  return l;
}
}  // namespace

Colour strong(Outcome o) noexcept {
  switch (o) {
    case Outcome::pass:
      return palette::petrol;
    case Outcome::waived:
      return palette::plum;
    case Outcome::not_tested:
      return palette::slate;
    case Outcome::marginal:
      return palette::amber;
    case Outcome::fail:
      return palette::brick;
  }
  return palette::slate;
}

Colour tint(Outcome o) noexcept {
  switch (o) {
    case Outcome::pass:
      return palette::petrol_tint;
    case Outcome::waived:
      return palette::plum_tint;
    case Outcome::not_tested:
      return palette::slate_tint;
    case Outcome::marginal:
      return palette::amber_tint;
    case Outcome::fail:
      return palette::brick_tint;
  }
  return palette::slate_tint;
}

Drawing outcome_mark(Outcome o, double s) {
  Drawing d{s, s, {}, {}, {}};
  const double c = s / 2, w = s * 0.11;
  const Colour col = strong(o);
  const Pen white = stroked(palette::paper, w);
  switch (o) {
    case Outcome::pass:
      d.add(Disc{c, c, s * 0.47, filled(col)});
      d.add(Line{{{s * 0.27, s * 0.53}, {s * 0.43, s * 0.68}, {s * 0.73, s * 0.34}}, false, white});
      break;
    case Outcome::fail: {
      Line l = polygon(c, c, s * 0.5, 8, std::numbers::pi / 8);
      l.pen = filled(col);
      d.add(std::move(l));
      d.add(Line{{{s * 0.33, s * 0.33}, {s * 0.67, s * 0.67}}, false, white});
      d.add(Line{{{s * 0.67, s * 0.33}, {s * 0.33, s * 0.67}}, false, white});
      break;
    }
    case Outcome::marginal:
      d.add(Line{{{c, s * 0.05}, {s * 0.98, s * 0.92}, {s * 0.02, s * 0.92}}, true, filled(col)});
      d.add(Line{{{c, s * 0.36}, {c, s * 0.63}}, false, white});
      d.add(Disc{c, s * 0.77, w * 0.62, filled(palette::paper)});
      break;
    case Outcome::not_tested:
      d.add(Disc{c, c, s * 0.43, stroked(col, s * 0.08, {s * 0.15, s * 0.12})});
      d.add(Line{{{s * 0.32, c}, {s * 0.68, c}}, false, stroked(col, w)});
      break;
    case Outcome::waived:
      d.add(Line{{{c, s * 0.04}, {s * 0.96, c}, {c, s * 0.96}, {s * 0.04, c}}, true, stroked(col, s * 0.08)});
      d.add(Line{{{s * 0.35, c}, {s * 0.65, c}}, false, stroked(col, w)});
      break;
  }
  return d;
}
}  // namespace hb::sheet
