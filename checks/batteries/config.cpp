#include "checks/batteries/batteries.hpp"
#include "checks/kernel/coulomb.hpp"

namespace hb::checks {

CheckInfo Batteries::needs() {
  return {
      "batteries",
      "Batteries under load",
      "Battery health",
      {Resource::battery_load, Resource::charger},
      std::chrono::seconds{65},
      "If a cell is swollen, dented or punctured, or any part is hot or smells: stop, unplug, do not charge "
      "or press it, take it to a place that does not burn, and follow the local rules for damaged cells."};
}

std::vector<SectionSpec> Batteries::sections() {
  return {
      {"cell",
       true,
       {{"supply", KeyType::text, "the name of its folder under /sys/class/power_supply"},
        {"design_mah", KeyType::number, "the design capacity in mAh", true, 50, 100000},
        {"r_design_mohm", KeyType::number, "the resistance of a healthy cell in milliohm", false, 1, 5000}}},
      {"battery",
       false,
       {{"ocv_soc", KeyType::numbers, "states of charge 0 to 1, rising", true, 0, 1},
        {"ocv_v", KeyType::numbers, "open-circuit volts of a cell at those states of charge", true, 2, 5},
        {"load_workers", KeyType::integer, "busy loops during the load, 1 to 8", false, 1, 8},
        {"load_s", KeyType::number, "seconds of load, 10 to 40", false, 10, 40},
        {"rest_s", KeyType::number, "seconds of rest before and after, 10 to 120", false, 10, 120},
        {"parallel", KeyType::boolean, "true when the cells are joined in parallel", false},
        {"hot_stop_c", KeyType::number, "the cell temperature that stops the load", false, 30, 60}}}};
}

Result<Batteries::Config> Batteries::configure(const Sections& sections) {
  Config c;
  for (const Section* s : sections.named("cell")) {
    Cell cell{s->name, s->text("supply"), s->number("design_mah"), std::nullopt};
    if (s->has("r_design_mohm")) cell.r_design_mohm = s->number("r_design_mohm");
    c.cells.push_back(std::move(cell));
  }
  if (c.cells.empty())
    return Error{ErrorCode::invalid_argument, "the profile lists no [[cell]]", "cell",
                 "Add one table for each battery cell."};
  const Section* b = sections.one("battery");
  if (b == nullptr)
    return Error{ErrorCode::invalid_argument, "the profile has no [battery] section", "battery",
                 "Add it with the open-circuit curve."};
  c.ocv_soc = b->numbers("ocv_soc");
  c.ocv_v = b->numbers("ocv_v");
  c.load_workers = static_cast<int>(b->integer("load_workers", 4));
  c.load_s = b->number("load_s", 20);
  c.rest_s = b->number("rest_s", 20);
  c.parallel = b->boolean("parallel", true);
  c.hot_stop_c = b->number("hot_stop_c", 45);
  if (!kernel::OcvCurve::from(c.ocv_soc, c.ocv_v))
    return Error{ErrorCode::invalid_argument,
                 "ocv_soc and ocv_v must be equally long, at least 2, and both must rise", "battery.ocv_v",
                 "Give one voltage for each state of charge."};
  return c;
}

std::vector<Term> Batteries::limit_keys() {
  return {"batteries.present",           "batteries.soh_pct",
          "batteries.design_ratio",      "batteries.resistance_mohm",
          "batteries.coulomb_error_pct", "batteries.rest_ocv_error_mv",
          "batteries.temperature_c",     "batteries.temperature_rise_c",
          "batteries.share_error_pct",   "batteries.imbalance_mv",
          "batteries.sign_inverted",     "batteries.load_sag_mv"};
}

}  // namespace hb::checks
