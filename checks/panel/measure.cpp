// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "checks/panel/panel.hpp"

namespace hb::checks {
namespace {
using Fault = Panel::Fault;
using Shown = Panel::Shown;

bool well_formed(const Panel::DisplayCapture& c) {
  if (static_cast<int>(c.shown) < 0 || c.shown > Shown::too_late || c.fields.size() != c.marks.size())
    return false;
  for (const Field f : c.fields)
    if (static_cast<int>(f) < 0 || static_cast<int>(f) >= kFields) return false;
  const auto part = [](double v) { return v >= 0 && v <= 1; };
  for (const auto& marks : c.marks) {
    if (marks.size() > static_cast<std::size_t>(kMarksPerField)) return false;
    for (const Mark& m : marks)
      if (static_cast<int>(m.kind) < 0 || static_cast<int>(m.kind) >= kMarkKinds || !part(m.x) ||
          !part(m.y) || !part(m.w) || !part(m.h))
        return false;
  }
  return true;
}

struct Value {
  double value = 0, u = 0;
};
/// Ellipses that fill the boxes drawn. u: each side has two tap errors.
Value patch_area_mm2(const std::vector<Fault>& all) {
  constexpr double quarter = std::numbers::pi / 4;
  const double u_side = std::sqrt(2.0) * Panel::kTapSd_mm;
  Value area;
  double u2 = 0;
  for (const Fault& f : all) {
    area.value += quarter * f.w_mm * f.h_mm;
    u2 += std::pow(quarter * u_side, 2) * (f.w_mm * f.w_mm + f.h_mm * f.h_mm);
  }
  area.u = std::sqrt(u2);
  return area;
}

Plot map_of(const std::vector<Fault>& all, const Panel::Display& d, const Panel::Config& config) {
  Plot p;
  p.kind = "defect_map";
  p.part = d.name;
  Series kind{"kind", "1", {}}, x{"x", "mm", {}}, y{"y", "mm", {}}, w{"w", "mm", {}}, h{"h", "mm", {}};
  for (const Fault& f : all) {
    kind.values.push_back(static_cast<double>(f.kind));
    x.values.push_back(f.x_mm), y.values.push_back(f.y_mm);
    w.values.push_back(f.w_mm), h.values.push_back(f.h_mm);
  }
  p.series = {Series{"size", "mm", {d.width_mm, d.height_mm}}, kind, x, y, w, h};
  if (d.fold_mm > 0)
    p.series.push_back(
        {"fold", "mm", {d.fold_mm - config.fold_zone_mm / 2, d.fold_mm + config.fold_zone_mm / 2}});
  return p;
}

void measure_panel(const Panel::DisplayCapture& c, const Panel::Display& d, const Panel::Config& config,
                   Measured& out) {
  const auto all = Panel::faults(c, d, config);
  const auto n = static_cast<std::int64_t>(c.fields.size());
  const auto add = [&](Term key, Value v, Term unit) {
    out.measures.push_back({key, d.name, v.value, v.u, unit, n});
  };
  const auto count = [&](auto wanted) {
    return Value{static_cast<double>(std::count_if(all.begin(), all.end(), wanted)), 0};
  };
  using Kind = Fault::Kind;
  add("panel.observed_bright_dots",
      count([](const Fault& f) { return f.kind == Kind::bright_dot && !f.on_fold; }), "1");
  add("panel.observed_dark_dots",
      count([](const Fault& f) { return f.kind == Kind::dark_dot && !f.on_fold; }), "1");
  add("panel.observed_lines",
      count([](const Fault& f) { return f.kind == Kind::column || (f.kind == Kind::row && !f.on_fold); }),
      "1");
  add("panel.observed_patches", count([](const Fault& f) { return f.kind == Kind::patch && !f.on_fold; }),
      "1");
  if (d.fold_mm > 0) add("panel.observed_fold_marks", count([](const Fault& f) { return f.on_fold; }), "1");
  if (const Value area = patch_area_mm2(all); area.value > 0)
    add("panel.observed_patch_area_mm2", area, "mm2");
  out.plots.push_back(map_of(all, d, config));
}

Error not_shown(Shown why) {
  const auto say = [](const char* what, const char* next) {
    return Error{ErrorCode::unsupported, what, "panel", next};
  };
  switch (why) {
    case Shown::left_out:
      return say("the fields on the phone's page were left out", "Run the check again and go through them.");
    case Shown::not_filled:
      return say("the fields did not fill the screen: either the browser cannot, or the picture was turned",
                 "Hold the phone upright, switch rotation off, or use another browser.");
    case Shown::other_screen:
      return say("the fields were shown on another screen than the one asked for",
                 "Open or close the phone as asked, and run the check again.");
    case Shown::too_late:
      return say("the fields on the phone's page were not finished in time",
                 "Run the check again and tap Next on each field.");
    case Shown::yes:
    case Shown::not_opened:
      break;
  }
  return say("the phone's browser could not open the bench's page",
             "Unlock the phone, let it open the page, and run this check again.");
}
}  // namespace

Result<Measured> Panel::measure(const Capture& capture, const Config& config) {
  Measured m;
  const DisplayCapture* unseen = nullptr;
  bool found = false;
  if (capture.displays.size() != config.displays.size())
    return Error{ErrorCode::bad_format, "the panel capture is torn", "panel", "Run the check again."};
  for (std::size_t i = 0; i < config.displays.size(); ++i) {
    const DisplayCapture& c = capture.displays[i];
    const Display& d = config.displays[i];
    if (c.part != d.name.str() || !well_formed(c) || (c.shown == Shown::yes && c.fields != fields_of(d)))
      return Error{ErrorCode::bad_format, "the panel capture is torn", d.name.str(), "Run the check again."};
    if (c.shown != Shown::yes) {
      if (unseen == nullptr) unseen = &c;
      continue;
    }
    measure_panel(c, d, config, m);
    found = found || std::any_of(c.marks.begin(), c.marks.end(), [](const auto& x) { return !x.empty(); });
  }
  // A panel that was not looked at is not passed; what was found on another one is judged all the same.
  if (unseen != nullptr && !found) return not_shown(unseen->shown);
  return m;
}
}  // namespace hb::checks
