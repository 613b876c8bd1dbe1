#include <nlohmann/json.hpp>

#include "checks/touch_grid/touch_grid.hpp"

namespace hb::checks {

CheckInfo TouchGrid::needs() {
  CheckInfo i;
  i.id = "touch_grid";
  i.title = "Touch grid";
  i.customer_title = "Touch on every part of the screens";
  i.holds = {Resource::screen, Resource::hands, Resource::battery_load};
  i.budget = std::chrono::seconds(120);
  i.caution =
      "Touches reach whatever the phone shows: sweep on an empty page or in a guest or repair mode, never "
      "with "
      "messages open. Stop at a crack: glass splinters.";
  return i;
}

std::vector<SectionSpec> TouchGrid::sections() {
  return {
      {"display",
       true,
       {{"touch_max_x", KeyType::integer, "the largest x coordinate of the touch device", true, 1, 100000},
        {"touch_max_y", KeyType::integer, "the largest y coordinate of the touch device", true, 1, 100000},
        {"width_mm", KeyType::number, "the panel's width along x in millimetres", true, 5, 1000},
        {"height_mm", KeyType::number, "the panel's height along y in millimetres", true, 5, 1000},
        {"fold_y_px", KeyType::number, "the y coordinate of the fold line, 0 for none", false, 0, 100000},
        {"report_rate_hz", KeyType::number, "the digitizer's reports a second", true, 10, 2000}}}};
}

Result<TouchGrid::Config> TouchGrid::configure(const Sections& sections) {
  Config c;
  for (const Section* s : sections.named("display")) {
    Display d;
    d.name = s->name;
    d.max_x = static_cast<int>(s->integer("touch_max_x"));
    d.max_y = static_cast<int>(s->integer("touch_max_y"));
    d.width_mm = s->number("width_mm");
    d.height_mm = s->number("height_mm");
    d.fold_y_px = s->number("fold_y_px");
    d.report_rate_hz = s->number("report_rate_hz");
    if (d.fold_y_px > d.max_y)
      return Error{ErrorCode::invalid_argument, "the fold line lies outside the touch device's range",
                   "display.fold_y_px", "Give the fold's y coordinate in touch units, 0 to touch_max_y."};
    c.displays.push_back(std::move(d));
  }
  if (c.displays.empty())
    return Error{ErrorCode::invalid_argument, "the touch grid needs at least one [[display]] table",
                 "display", "Add the panel's size and its touch range."};
  return c;
}

std::vector<Term> TouchGrid::limit_keys() {
  return {"touch_grid.devices_found",  "touch_grid.dead_area_pct",       "touch_grid.dead_region_cells",
          "touch_grid.edge_reach_mm",  "touch_grid.straightness_rms_mm", "touch_grid.jitter_mm",
          "touch_grid.report_rate_hz", "touch_grid.ghost_contacts",      "touch_grid.contacts_max",
          "touch_grid.lost_contacts"};
}

NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(TouchGrid::Points, t_us, slot, contact, x, y)
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(TouchGrid::DisplayCapture, part, found, gave_up, rest_from_us, rest_to_us,
                                   sweep_from_us, sweep_to_us, points, up_us, dropped_from_us, dropped_to_us,
                                   bad_lines)

void to_json(nlohmann::json& j, const TouchGrid::Capture& c) {
  j = {{"touch_nodes", c.touch_nodes}, {"displays", c.displays}};
}
void from_json(const nlohmann::json& j, TouchGrid::Capture& c) {
  j.at("touch_nodes").get_to(c.touch_nodes);
  j.at("displays").get_to(c.displays);
}
}  // namespace hb::checks
