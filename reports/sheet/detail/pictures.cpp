#include "pictures.hpp"

#include <algorithm>
#include <cmath>

#include "story.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
const PlotView* plot_of(const CheckView& c, std::string_view kind) {
  for (const auto& p : c.plots)
    if (p.kind == kind) return &p;
  return nullptr;
}

/// "battery-main V" -> "main"; "current" with an empty part stays.
std::string cell_name(std::string name, const Language& l) {
  for (const std::string_view end : {" V", " I", " mA"})
    if (name.ends_with(end)) name = name.substr(0, name.size() - end.size());
  if (name.starts_with("battery-") || name.starts_with("battery ")) name.erase(0, 8);
  return l.trc("cell", shown(name, 12));
}

std::string ends_told(const Curve& c, std::string_view unit, const Language& l) {
  std::vector<double> known;
  for (const double v : c.y)
    if (std::isfinite(v)) known.push_back(v);
  if (known.empty()) return {};
  const auto [lo, hi] = std::minmax_element(known.begin(), known.end());
  return l.fill("{0}: {1} to {2} {3}.", c.name.empty() ? l.tr("Line") : c.name, l.number(significant(*lo, 3)),
                l.number(significant(*hi, 3)), unit) +
         " ";
}

/// Battery plots come as one plot with all cells, or one a cell: whatever has the unit is drawn.
std::vector<Curve> by_unit(const CheckView& check, std::string_view unit, const Language& l) {
  std::vector<Curve> curves;
  for (const auto& p : check.plots) {
    const auto* t = p.kind == "battery_trace" ? p.values("t") : nullptr;
    if (!t) continue;
    for (const auto& s : p.series)
      if (s.name != "t" && s.unit == unit && !s.values.empty() && curves.size() < 4)
        curves.push_back({cell_name(p.part.empty() ? s.name : p.part, l), *t, s.values});
  }
  return curves;
}

void place(Drawing& onto, Drawing part, double dy) {
  for (auto& shape : part.shapes) {
    if (auto* l = std::get_if<Line>(&shape))
      for (auto& p : l->points) p.y += dy;
    if (auto* b = std::get_if<Box>(&shape)) b->y += dy;
    if (auto* c = std::get_if<Disc>(&shape)) c->y += dy;
    if (auto* t = std::get_if<Label>(&shape)) t->y += dy;
    onto.shapes.push_back(std::move(shape));
  }
}
}  // namespace

std::optional<Drawing> hinge_picture(const CheckView& check, const Frame& f, const Language& l) {
  const PlotView* p = plot_of(check, "hinge_curve");
  const auto* t = p ? p->values("t") : nullptr;
  const auto* angle = p ? p->values("angle") : nullptr;
  if (!t || !angle) return std::nullopt;
  const Curve c{"", *t, *angle};
  const ChartText text{l.tr("Hinge curve"),
                       l.tr("Angle that the phone reported while it was closed and opened.") + " " +
                           ends_told({l.tr("Angle"), *t, *angle}, l.tr("degrees"), l),
                       l.tr("seconds"), l.tr("reported angle, degrees")};
  std::vector<Guide> guides;
  if (const auto* stops = p->values("stop_deg"))
    for (const double s : *stops) {
      const bool known =
          std::any_of(guides.begin(), guides.end(), [&](const Guide& g) { return std::abs(g.y - s) < 1; });
      if (std::isfinite(s) && !known && guides.size() < 5)
        guides.push_back({s, s < 1                   ? l.trc("hinge", "closed")
                             : std::abs(s - 90) < 1  ? l.trc("hinge", "half")
                             : std::abs(s - 180) < 1 ? l.trc("hinge", "flat")
                                                     : ""});
    }
  double top = 180;
  for (const double a : *angle)
    if (std::isfinite(a)) top = std::max(top, a);
  return line_chart({c}, guides, text, {0.0, std::min(top, 400.0), {0, 45, 90, 135, 180}}, f, l);
}

std::optional<Drawing> battery_picture(const CheckView& check, const Frame& f, const Language& l) {
  const std::vector<Curve> volts = by_unit(check, "V", l), amps = by_unit(check, "mA", l);
  if (volts.empty() && amps.empty()) return std::nullopt;
  Drawing d{f.w, f.h, l.tr("Battery trace"), {}, {}};
  for (const auto& c : volts) d.description += ends_told(c, "V", l);
  for (const auto& c : amps) d.description += ends_told(c, "mA", l);
  const bool room = f.h >= 100;  // for two, one above the other
  const bool both = room && !volts.empty() && !amps.empty();
  Frame upper = f, lower = f;
  if (both) upper.h = f.h * 0.46, lower.h = f.h - upper.h;
  if (!volts.empty())
    place(d, line_chart(volts, {}, {"", "", both ? "" : l.tr("seconds"), l.tr("voltage, V")}, {}, upper, l),
          0);
  if (!amps.empty() && (room || volts.empty()))
    place(d, line_chart(amps, {}, {"", "", l.tr("seconds"), l.tr("current, mA")}, {}, lower, l),
          both ? upper.h : 0);
  return d;
}

std::optional<Drawing> charge_picture(const CheckView& check, const Frame& f, const Language& l) {
  const PlotView* p = plot_of(check, "charge_trace");
  const auto* t = p ? p->values("t") : nullptr;
  const auto* current = p ? p->values("current") : nullptr;
  if (!t || !current) return std::nullopt;
  return line_chart(
      {{"", *t, *current}}, {{0, ""}},
      {l.tr("Charging without a cable"),
       l.tr("Current into the battery.") + " " + ends_told({l.tr("Current"), *t, *current}, "mA", l),
       l.tr("seconds"), l.tr("current into the battery, mA")},
      {}, f, l);
}

std::vector<Drawing> sharpness_pictures(const CheckView& check, const Frame& f, const Language& l) {
  std::vector<Drawing> out;
  for (const auto& p : check.plots) {
    const auto* x = p.kind == "sfr" ? p.values("frequency") : nullptr;
    if (!x || out.size() == 8) continue;
    std::vector<Curve> curves;
    if (const auto* y = p.values("centre")) curves.push_back({l.trc("picture", "centre"), *x, *y});
    if (const auto* y = p.values("worst")) curves.push_back({l.trc("picture", "corner"), *x, *y});
    if (curves.empty()) continue;
    const std::string who =
        capitalised(p.part.empty() ? l.trc("part", "camera") : part_words(check, p.part, l));
    out.push_back(line_chart(
        curves, {{0.5, ""}},
        {l.fill("{0}: sharpness", who),
         l.tr("How much contrast of fine detail arrives, in the middle and in the weakest corner."),
         l.tr("fineness of detail"), l.tr("contrast")},
        {0.0, 1.0, {0, 0.5, 1}}, f, l));
  }
  return out;
}

std::vector<Picture> pictures(const View& view, const Frame& f, std::size_t most, const Language& l) {
  std::vector<Picture> out;
  const auto take = [&](std::string caption, std::optional<Drawing> d) {
    if (d && out.size() < most) out.push_back({std::move(caption), std::move(*d)});
  };
  for (const auto& c : view.checks) take(l.tr("Where the screen answered"), touch_picture(c, f, l));
  for (const auto& c : view.checks) take(l.tr("Faults seen on the screens"), defect_picture(c, f, l));
  for (const auto& c : view.checks) take(l.tr("Closing and opening the hinge"), hinge_picture(c, f, l));
  for (const auto& c : view.checks) take(l.tr("Batteries at rest and under load"), battery_picture(c, f, l));
  for (const auto& c : view.checks) take(l.tr("Charging without a cable"), charge_picture(c, f, l));
  for (const auto& c : view.checks)
    for (auto& d : sharpness_pictures(c, f, l)) {
      std::string caption = d.title;
      take(std::move(caption), std::move(d));
    }
  return out;
}
}  // namespace hb::sheet
