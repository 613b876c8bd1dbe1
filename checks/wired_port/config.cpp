#include "checks/wired_port/wired_port.hpp"

namespace hb::checks {

CheckInfo WiredPort::needs() {
  return {"wired_port",
          "Charging port",
          "Charging by cable",
          {Resource::hands, Resource::charger, Resource::battery_load},
          std::chrono::seconds{45},
          "Move the plug gently, never further than it goes by itself. Stop if port or plug gets hot."};
}

std::vector<SectionSpec> WiredPort::sections() {
  return {
      {"port",
       false,
       {{"supply", KeyType::text, "the port's directory under /sys/class/power_supply"},
        {"udc", KeyType::text, "the USB controller's directory under /sys/class/udc", false},
        {"hold_s", KeyType::number, "seconds to charge lying still, 4 to 60", false, 4, 60},
        {"wiggle_s", KeyType::number, "seconds to move the plug, 3 to 30", false, 3, 30},
        {"full_above_pct", KeyType::number, "battery level that counts as full", false, 1, 100},
        {"taper_above_pct", KeyType::number, "battery level from which less is taken by design", false, 1,
         100},
        {"hot_above_c", KeyType::number, "temperature from which less is taken by design", false, 20, 60}}}};
}

Result<WiredPort::Config> WiredPort::configure(const Sections& sections) {
  const Section* s = sections.one("port");
  if (s == nullptr)
    return Error{ErrorCode::unsupported, "the profile does not describe the charging port", "port",
                 "Add a [port] table."};
  Config c;
  c.supply = s->text("supply");
  c.udc = s->text("udc");
  c.hold_s = s->number("hold_s", c.hold_s);
  c.wiggle_s = s->number("wiggle_s", c.wiggle_s);
  c.full_above_pct = s->number("full_above_pct", c.full_above_pct);
  c.taper_above_pct = s->number("taper_above_pct", c.taper_above_pct);
  c.hot_above_c = s->number("hot_above_c", c.hot_above_c);
  return c;
}

std::vector<Term> WiredPort::limit_keys() {
  return {"wired_port.powered",         "wired_port.current_limit_ma", "wired_port.current_ma",
          "wired_port.port_voltage_mv", "wired_port.resistance_mohm",  "wired_port.dropouts",
          "wired_port.wiggle_dropouts", "wired_port.link_mbit_s"};
}

ShopText WiredPort::part(int side) { return side == 1 ? Term("first way") : Term("turned"); }

}  // namespace hb::checks
