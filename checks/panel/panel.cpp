// What the check says of itself, its configuration and its capture's form.
#include "checks/panel/panel.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace hb::checks {
using nlohmann::json;

CheckInfo Panel::needs() {
  CheckInfo i;
  i.id = "panel";
  i.title = "Panel, as seen";
  i.customer_title = "Picture of the screens, as seen by the technician";
  i.holds = {Resource::screen, Resource::page, Resource::hands, Resource::hinge, Resource::battery_load};
  i.budget = std::chrono::seconds(60);
  i.caution = "Do not press on a spot to see whether it moves: a cracked layer spreads.";
  return i;
}

std::vector<SectionSpec> Panel::sections() {
  return {
      {"display",
       true,
       {{"touch_max_y", KeyType::integer, "the largest y coordinate of the touch device", false, 1, 100000},
        {"width_mm", KeyType::number, "the panel's width along x in millimetres", true, 5, 1000},
        {"height_mm", KeyType::number, "the panel's height along y in millimetres", true, 5, 1000},
        {"fold_y_px", KeyType::number, "the y coordinate of the fold line, 0 for none", false, 0, 100000}}},
      {"panel",
       false,
       {{"fold_zone_mm", KeyType::number, "height of the zone about the fold in which faults count apart",
         false, 4, 60},
        {"same_place_mm", KeyType::number, "how far apart marks of one fault may lie on different fields",
         false, 2, 30}}}};
}

Result<Panel::Config> Panel::configure(const Sections& sections) {
  Config c;
  if (const Section* s = sections.one("panel")) {
    c.fold_zone_mm = s->number("fold_zone_mm", c.fold_zone_mm);
    c.same_place_mm = s->number("same_place_mm", c.same_place_mm);
  }
  for (const Section* s : sections.named("display")) {
    Display d;
    d.name = s->name;
    d.width_mm = s->number("width_mm"), d.height_mm = s->number("height_mm");
    const double fold_px = s->number("fold_y_px"), rows = static_cast<double>(s->integer("touch_max_y")) + 1;
    if (fold_px > 0 && !(fold_px < rows))
      return Error{ErrorCode::invalid_argument, "the fold line lies outside the panel", "display.fold_y_px",
                   "Give touch_max_y, and the fold's y coordinate below it."};
    if (fold_px > 0) d.fold_mm = fold_px / rows * d.height_mm;
    c.displays.push_back(std::move(d));
  }
  if (c.displays.empty())
    return Error{ErrorCode::invalid_argument, "the panel check needs at least one [[display]] table",
                 "display", "Add the panel's size."};
  const bool folds =
      std::any_of(c.displays.begin(), c.displays.end(), [](const Display& d) { return d.fold_mm > 0; });
  for (Display& d : c.displays) d.closed = folds && d.fold_mm == 0;
  return c;
}

std::vector<Term> Panel::limit_keys() {
  return {"panel.observed_bright_dots", "panel.observed_dark_dots",  "panel.observed_lines",
          "panel.observed_patches",     "panel.observed_fold_marks", "panel.observed_patch_area_mm2"};
}

std::vector<Field> Panel::fields_of(const Display& display) {
  std::vector<Field> all;
  for (int i = 0; i < kFields; ++i) all.push_back(static_cast<Field>(i));
  if (display.fold_mm == 0) all.pop_back();
  return all;
}

void to_json(json& j, const Panel::Capture& c) {
  json all = json::array();
  for (const auto& d : c.displays) {
    json fields = json::array();
    for (std::size_t i = 0; i < d.fields.size(); ++i) {
      json marks = json::array();
      for (const Mark& m : d.marks.at(i))
        marks.push_back(json::array({static_cast<int>(m.kind), m.x, m.y, m.w, m.h}));
      fields.push_back(json::array({static_cast<int>(d.fields[i]), std::move(marks)}));
    }
    all.push_back({{"part", d.part},
                   {"shown", static_cast<int>(d.shown)},
                   {"width_px", d.width_px},
                   {"height_px", d.height_px},
                   {"fields", std::move(fields)}});
  }
  j = json{{"displays", std::move(all)}};
}

void from_json(const json& j, Panel::Capture& c) {
  c = {};
  for (const auto& one : j.at("displays")) {
    Panel::DisplayCapture d;
    one.at("part").get_to(d.part);
    d.shown = static_cast<Panel::Shown>(one.at("shown").get<int>());
    one.at("width_px").get_to(d.width_px);
    one.at("height_px").get_to(d.height_px);
    for (const auto& f : one.at("fields")) {
      d.fields.push_back(static_cast<Field>(f.at(0).get<int>()));
      std::vector<Mark> marks;
      for (const auto& m : f.at(1))
        marks.push_back({static_cast<MarkKind>(m.at(0).get<int>()), m.at(1).get<double>(),
                         m.at(2).get<double>(), m.at(3).get<double>(), m.at(4).get<double>()});
      d.marks.push_back(std::move(marks));
    }
    c.displays.push_back(std::move(d));
  }
}
}  // namespace hb::checks
