#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "pictures.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
struct Style {
  Colour colour;
  std::vector<double> dash;
};
/// Dark and solid, then mid and dashed, then darker and dotted: told apart in grey.
const Style& style(std::size_t i) {
  static const std::array<Style, 4> styles{Style{palette::petrol, {}}, Style{palette::brick, {4, 1.6}},
                                           Style{palette::ink, {1, 1.6}},
                                           Style{palette::plum, {6, 1.6, 1, 1.6}}};
  return styles[i % styles.size()];
}

Pen pen(Colour c, double w, std::vector<double> dash = {}) {
  return Pen{.fill = -1, .stroke = c, .width = w, .dash = std::move(dash)};
}

struct Axis {
  double lo = 0, hi = 1, step = 1;
  int decimals = 0;
};

/// Steps of 1, 2 or 5 times a power of ten, about `wanted` of them.
Axis axis(double lo, double hi, int wanted) {
  if (!(hi > lo)) lo -= 0.5, hi += 0.5;
  const double raw = (hi - lo) / wanted, ten = std::pow(10, std::floor(std::log10(raw)));
  const double step = raw / ten <= 1 ? ten : raw / ten <= 2 ? 2 * ten : raw / ten <= 5 ? 5 * ten : 10 * ten;
  return {std::floor(lo / step + 1e-9) * step, std::ceil(hi / step - 1e-9) * step, step,
          std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)))};
}

struct Span {
  double lo = 1e300, hi = -1e300;
  void see(double v) {
    if (std::isfinite(v) && std::abs(v) < 1e12) lo = std::min(lo, v), hi = std::max(hi, v);
  }
};

struct Plane {
  double left, top, right, bottom;
  Axis x, y;
  [[nodiscard]] Point at(double px, double py) const {
    return {left + (px - x.lo) / (x.hi - x.lo) * (right - left),
            bottom - (std::clamp(py, y.lo, y.hi) - y.lo) / (y.hi - y.lo) * (bottom - top)};
  }
};

/// At about 0.58 em a letter, which is a wide digit.
double label_width(const std::string& s, double text) {
  return 0.58 * text * static_cast<double>(letters(s));
}

void grid(Drawing& d, const Plane& p, const ChartText& t, const std::vector<double>& y_ticks, double text,
          const Language& l) {
  std::vector<double> ticks = y_ticks;
  if (ticks.empty())
    for (int i = 0; i < 20 && p.y.lo + i * p.y.step <= p.y.hi + p.y.step * 1e-6; ++i)
      ticks.push_back(p.y.lo + i * p.y.step);
  double last = 1e9;
  for (const double v : ticks) {
    const double y = p.at(p.x.lo, v).y;
    if (std::abs(last - y) < text * 1.2) continue;  // it would touch the one before it
    last = y;
    d.add(Line{{{p.left, y}, {p.right, y}}, false, pen(palette::rule, 0.4)});
    d.add(Label{p.left - 2.5, y + text * 0.35, l.number(fixed(v, p.y.decimals)), text, Anchor::end,
                palette::soft_ink, false});
  }
  const double first = std::ceil(p.x.lo / p.x.step - 1e-9) * p.x.step;
  double free_from = -1e9;  // a number that would touch the one before it has no place
  for (int i = 0; i < 20 && first + i * p.x.step <= p.x.hi + p.x.step * 1e-6; ++i) {
    const double v = first + i * p.x.step, x = p.at(v, p.y.lo).x;
    const double half = label_width(fixed(v, p.x.decimals), text) / 2;
    if (x - half < free_from) continue;
    free_from = x + half + text * 0.5;
    d.add(Line{{{x, p.bottom}, {x, p.bottom + 2}}, false, pen(palette::soft_ink, 0.5)});
    d.add(Label{x, p.bottom + text * 1.25 + 1, l.number(fixed(v, p.x.decimals)), text, Anchor::middle,
                palette::soft_ink, false});
  }
  d.add(Line{{{p.left, p.bottom}, {p.right, p.bottom}}, false, pen(palette::soft_ink, 0.6)});
  d.add(Label{0, p.top - text * 0.85, t.y_label, text, Anchor::start, palette::soft_ink, false});
  if (!t.x_label.empty())
    d.add(Label{p.right, p.bottom + text * 2.35 + 1, t.x_label, text, Anchor::end, palette::soft_ink, false});
}

struct Named {
  double y;
  std::size_t curve;
};

/// Labels at the right end of their lines, pushed apart so that they never overlap.
void names(Drawing& d, const Plane& p, const std::vector<Curve>& curves, double text) {
  std::vector<Named> ends;
  for (std::size_t i = 0; i < curves.size(); ++i) {
    if (curves[i].name.empty()) continue;
    for (std::size_t k = curves[i].y.size(); k-- > 0;)
      if (k < curves[i].x.size() && std::isfinite(curves[i].y[k])) {
        ends.push_back({p.at(p.x.hi, curves[i].y[k]).y, i});
        break;
      }
  }
  std::sort(ends.begin(), ends.end(), [](const Named& a, const Named& b) { return a.y < b.y; });
  const double step = text * 1.15;
  for (std::size_t i = 1; i < ends.size(); ++i) ends[i].y = std::max(ends[i].y, ends[i - 1].y + step);
  double most = p.bottom - text * 0.2;
  for (std::size_t i = ends.size(); i-- > 0; most = ends[i].y - step) {
    if (i + 1 == ends.size()) most = p.bottom - text * 0.2;
    ends[i].y = std::min(ends[i].y, most);
  }
  for (const auto& e : ends)
    d.add(Label{p.right + 3, e.y + text * 0.35, curves[e.curve].name, text, Anchor::start,
                style(e.curve).colour, true});
}

void curve(Drawing& d, const Plane& p, const Curve& c, std::size_t i) {
  Line l;
  l.pen = pen(style(i).colour, 1.1, style(i).dash);
  for (std::size_t k = 0; k < std::min(c.x.size(), c.y.size()); ++k) {
    if (std::isfinite(c.x[k]) && std::isfinite(c.y[k])) {
      l.points.push_back(p.at(c.x[k], c.y[k]));
    } else if (!l.points.empty()) {
      d.add(l);
      l.points.clear();
    }
  }
  if (!l.points.empty()) d.add(std::move(l));
}
}  // namespace

Drawing line_chart(const std::vector<Curve>& curves, const std::vector<Guide>& guides, const ChartText& t,
                   const ChartRange& range, const Frame& f, const Language& l) {
  Span sx, sy;
  std::size_t longest = 0;
  for (const auto& c : curves) {
    for (const double v : c.x) sx.see(v);
    for (const double v : c.y) sy.see(v);
    longest = std::max(longest, letters(c.name));
  }
  for (const auto& g : guides) longest = std::max(longest, letters(g.name));
  if (sx.lo > sx.hi) sx = {0, 1};
  if (sy.lo > sy.hi) sy = {0, 1};
  Plane p{};
  p.y = axis(range.y_min.value_or(sy.lo), range.y_max.value_or(sy.hi), f.h > 90 ? 4 : 2);
  p.x = axis(sx.lo, sx.hi, f.w > 250 ? 8 : 4);
  if (sx.hi > sx.lo) p.x.lo = sx.lo, p.x.hi = sx.hi;
  if (range.y_max) p.y.hi = *range.y_max;
  if (range.y_min) p.y.lo = *range.y_min;
  double digits = 0;
  if (range.y_ticks.empty())
    digits =
        static_cast<double>(std::max(fixed(p.y.hi, p.y.decimals).size(), fixed(p.y.lo, p.y.decimals).size()));
  for (const double v : range.y_ticks)
    digits = std::max(digits, static_cast<double>(fixed(v, p.y.decimals).size()));
  p.left = digits * f.text * 0.58 + 4;
  const double names_w =
      longest > 0 ? 3 + static_cast<double>(std::min<std::size_t>(longest, 16)) * f.text * 0.6 : 0;
  p.right = f.w - std::max(names_w, label_width(fixed(p.x.hi, p.x.decimals), f.text) / 2 + 1);
  p.top = f.text * 2.2;
  p.bottom = f.h - f.text * (t.x_label.empty() ? 1.6 : 2.8);
  Drawing d{f.w, f.h, t.title, t.description, {}};
  grid(d, p, t, range.y_ticks, f.text, l);
  for (const auto& g : guides) {
    const double y = p.at(p.x.lo, g.y).y;
    d.add(Line{{{p.left, y}, {p.right, y}}, false, pen(palette::soft_ink, 0.6, {1.2, 1.6})});
    if (!g.name.empty())
      d.add(Label{p.right + 3, y + f.text * 0.35, g.name, f.text, Anchor::start, palette::soft_ink, false});
  }
  for (std::size_t i = 0; i < curves.size(); ++i) curve(d, p, curves[i], i);
  names(d, p, curves, f.text);
  return d;
}
}  // namespace hb::sheet
