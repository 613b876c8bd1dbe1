#include "pictures.hpp"

#include <fmt/format.h>

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
std::string cell_name(std::string name) {
  for (const std::string_view end : {" V", " I", " mA"})
    if (name.ends_with(end)) name.resize(name.size() - end.size());
  if (name.starts_with("battery-") || name.starts_with("battery ")) name.erase(0, 8);
  return shown(name, 12);
}

std::string ends_told(const Curve& c, std::string_view unit) {
  std::vector<double> known;
  for (const double v : c.y)
    if (std::isfinite(v)) known.push_back(v);
  if (known.empty()) return {};
  const auto [lo, hi] = std::minmax_element(known.begin(), known.end());
  return fmt::format("{}: {} to {} {}. ", c.name.empty() ? "Line" : c.name, significant(*lo, 3),
                     significant(*hi, 3), unit);
}

/// Battery plots come as one plot with all cells, or one a cell: whatever has the unit is drawn.
std::vector<Curve> by_unit(const CheckView& check, std::string_view unit) {
  std::vector<Curve> curves;
  for (const auto& p : check.plots) {
    const auto* t = p.kind == "battery_trace" ? p.values("t") : nullptr;
    if (!t) continue;
    for (const auto& s : p.series)
      if (s.name != "t" && s.unit == unit && !s.values.empty() && curves.size() < 4)
        curves.push_back({cell_name(p.part.empty() ? s.name : p.part), *t, s.values});
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

std::optional<Drawing> hinge_picture(const CheckView& check, const Frame& f) {
  const PlotView* p = plot_of(check, "hinge_curve");
  const auto* t = p ? p->values("t") : nullptr;
  const auto* angle = p ? p->values("angle") : nullptr;
  if (!t || !angle) return std::nullopt;
  const Curve c{"", *t, *angle};
  ChartText text{"Hinge curve",
                 "Angle that the phone reported while it was closed and opened. " +
                     ends_told({"Angle", *t, *angle}, "degrees"),
                 "seconds", "reported angle, degrees"};
  std::vector<Guide> guides;
  if (const auto* stops = p->values("stop_deg"))
    for (const double s : *stops) {
      const bool known =
          std::any_of(guides.begin(), guides.end(), [&](const Guide& g) { return std::abs(g.y - s) < 1; });
      if (std::isfinite(s) && !known && guides.size() < 5)
        guides.push_back({s, s < 1                   ? "closed"
                             : std::abs(s - 90) < 1  ? "half"
                             : std::abs(s - 180) < 1 ? "flat"
                                                     : ""});
    }
  double top = 180;
  for (const double a : *angle)
    if (std::isfinite(a)) top = std::max(top, a);
  return line_chart({c}, guides, text, {0.0, std::min(top, 400.0), {0, 45, 90, 135, 180}}, f);
}

std::optional<Drawing> battery_picture(const CheckView& check, const Frame& f) {
  const std::vector<Curve> volts = by_unit(check, "V"), amps = by_unit(check, "mA");
  if (volts.empty() && amps.empty()) return std::nullopt;
  Drawing d{f.w, f.h, "Battery trace", {}, {}};
  for (const auto& c : volts) d.description += ends_told(c, "V");
  for (const auto& c : amps) d.description += ends_told(c, "mA");
  const bool both = !volts.empty() && !amps.empty();
  Frame upper = f, lower = f;
  if (both) upper.h = f.h * 0.46, lower.h = f.h - upper.h;
  if (!volts.empty())
    place(d, line_chart(volts, {}, {"", "", both ? "" : "seconds", "voltage, V"}, {}, upper), 0);
  if (!amps.empty())
    place(d, line_chart(amps, {}, {"", "", "seconds", "current, mA"}, {}, lower), both ? upper.h : 0);
  return d;
}

std::optional<Drawing> charge_picture(const CheckView& check, const Frame& f) {
  const PlotView* p = plot_of(check, "charge_trace");
  const auto* t = p ? p->values("t") : nullptr;
  const auto* current = p ? p->values("current") : nullptr;
  if (!t || !current) return std::nullopt;
  return line_chart(
      {{"", *t, *current}}, {{0, ""}},
      {"Charging without a cable", "Current into the battery. " + ends_told({"Current", *t, *current}, "mA"),
       "seconds", "current into the battery, mA"},
      {}, f);
}

std::vector<Drawing> sharpness_pictures(const CheckView& check, const Frame& f) {
  std::vector<Drawing> out;
  for (const auto& p : check.plots) {
    const auto* x = p.kind == "sfr" ? p.values("frequency") : nullptr;
    if (!x || out.size() == 8) continue;
    std::vector<Curve> curves;
    for (const char* name : {"centre", "worst"})
      if (const auto* y = p.values(name))
        curves.push_back({name == std::string_view("worst") ? "corner" : name, *x, *y});
    if (curves.empty()) continue;
    const std::string who = p.part.empty() ? "Camera" : "Camera " + p.part;
    out.push_back(
        line_chart(curves, {{0.5, ""}},
                   {who + ": sharpness",
                    "How much contrast of fine detail arrives, in the middle and in the weakest corner.",
                    "fineness, cycles/px", "contrast"},
                   {0.0, 1.0, {0, 0.5, 1}}, f));
  }
  return out;
}

std::vector<Picture> pictures(const View& view, const Frame& f, std::size_t most) {
  std::vector<Picture> out;
  const auto take = [&](std::string caption, std::optional<Drawing> d) {
    if (d && out.size() < most) out.push_back({std::move(caption), std::move(*d)});
  };
  for (const auto& c : view.checks) take("Where the screen answered", touch_picture(c, f));
  for (const auto& c : view.checks) take("Closing and opening the hinge", hinge_picture(c, f));
  for (const auto& c : view.checks) take("Batteries at rest and under load", battery_picture(c, f));
  for (const auto& c : view.checks) take("Charging without a cable", charge_picture(c, f));
  for (const auto& c : view.checks)
    for (auto& d : sharpness_pictures(c, f)) {
      std::string caption = d.title;
      take(std::move(caption), std::move(d));
    }
  return out;
}
}  // namespace hb::sheet
