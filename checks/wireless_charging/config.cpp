#include "checks/wireless_charging/wireless_charging.hpp"

namespace hb::checks {

CheckInfo WirelessCharging::needs() {
  return {"wireless_charging",
          "Wireless charging",
          "Wireless charging",
          {Resource::charger, Resource::hands, Resource::battery_load},
          std::chrono::seconds{65},
          "Nothing metal between phone and pad. If the phone or the pad gets hot to the touch or smells, "
          "lift the "
          "phone and stop. Never charge a swollen or damaged cell."};
}

std::vector<SectionSpec> WirelessCharging::sections() {
  return {
      {"wireless",
       false,
       {{"power_w", KeyType::number, "the coil's nominal power in watts", true, 1, 100},
        {"couple_max_s", KeyType::number, "seconds to wait for coupling", false, 1, 60},
        {"hold_s", KeyType::number, "seconds of lying still, 20 to 300", false, 20, 300},
        {"shift_mm", KeyType::number, "how far it is pushed off centre, in mm", false, 0.5, 30},
        {"full_above_pct", KeyType::number, "the level from which nothing can be judged", false, 50, 101},
        {"taper_above_pct", KeyType::number, "the level from which the current falls by design", false, 20,
         101},
        {"hot_above_c", KeyType::number, "the temperature from which the phone throttles", false, 25, 60}}},
      {"cell",
       true,
       {{"supply", KeyType::text, "the name of its folder under /sys/class/power_supply", false}}}};
}

Result<WirelessCharging::Config> WirelessCharging::configure(const Sections& sections) {
  const Section* s = sections.one("wireless");
  if (s == nullptr)
    return Error{ErrorCode::unsupported, "the profile has no [wireless] section: this model has no coil",
                 "wireless", ""};
  Config c;
  c.power_w = s->number("power_w", c.power_w);
  c.couple_max_s = s->number("couple_max_s", c.couple_max_s);
  c.hold_s = s->number("hold_s", c.hold_s);
  c.shift_mm = s->number("shift_mm", c.shift_mm);
  c.full_above_pct = s->number("full_above_pct", c.full_above_pct);
  c.taper_above_pct = s->number("taper_above_pct", c.taper_above_pct);
  c.hot_above_c = s->number("hot_above_c", c.hot_above_c);
  for (const Section* cell : sections.named("cell"))
    if (cell->has("supply")) c.supplies.push_back(cell->text("supply"));
  return c;
}

std::vector<Term> WirelessCharging::limit_keys() {
  return {"wireless_charging.coupled",
          "wireless_charging.couple_s",
          "wireless_charging.net_current_ma",
          "wireless_charging.power_fraction",
          "wireless_charging.dropouts",
          "wireless_charging.shifted_kept",
          "wireless_charging.shifted_current_ratio",
          "wireless_charging.temp_slope_c_per_min"};
}

}  // namespace hb::checks
