#include <fmt/format.h>

#include <cmath>

#include "tools/standin/shell/texts.hpp"

namespace hb::standin::text {
namespace {
std::string_view word(Charging c) noexcept {
  switch (c) {
    case Charging::unknown:
      return "Unknown";
    case Charging::charging:
      return "Charging";
    case Charging::discharging:
      return "Discharging";
    case Charging::not_charging:
      return "Not charging";
    case Charging::full:
      return "Full";
  }
  return "Unknown";
}

std::optional<std::string> gauge_file(const Gauge& g, std::string_view attribute) {
  if (attribute == "type") return "Battery";
  if (attribute == "technology") return "Li-ion";
  if (attribute == "health") return "Good";
  if (attribute == "present") return g.present ? "1" : "0";
  if (attribute == "status") return std::string(word(g.status));
  if (attribute == "capacity") return std::to_string(g.level_pct);
  if (attribute == "voltage_now") return std::to_string(g.voltage_uv);
  if (attribute == "current_now") return std::to_string(g.current_ua);
  if (attribute == "temp") return std::to_string(g.temperature_dc);
  if (attribute == "charge_counter") return std::to_string(g.counter_uah);
  if (attribute == "charge_full") return std::to_string(g.full_uah);
  if (attribute == "charge_full_design") return std::to_string(g.design_uah);
  if (attribute == "cycle_count") return std::to_string(g.cycles);
  return std::nullopt;
}
}  // namespace

std::string proc_uptime(const World& w) {
  return fmt::format("{:.2f} {:.2f}\n", w.uptime_s(), 5.2 * w.uptime_s());
}

std::string battery(const World& w) {
  const PackSays s = w.pack_says();
  std::string out = "Current Battery Service state:\n";
  if (w.unit().faults.has(Fault::battery_frozen)) out += "  (UPDATES STOPPED -- use 'reset' to restart)\n";
  out += fmt::format(
      "  AC powered: false\n  USB powered: {}\n  Wireless powered: {}\n  Dock powered: false\n"
      "  Max charging current: {}\n  Max charging voltage: {}\n  Charge counter: {}\n"
      "  status: {}\n  health: 2\n  present: true\n  level: {}\n  scale: 100\n  voltage: {}\n"
      "  temperature: {}\n  technology: Li-ion\n  Charging state: 0\n  Charging policy: 0\n",
      s.usb, s.wireless, s.max_current_ua, s.max_voltage_uv, s.counter_uah, static_cast<int>(s.status),
      s.level_pct, s.voltage_mv, s.temperature_dc);
  return out;
}

std::string battery_get(const World& w, std::string_view key) {
  const PackSays s = w.pack_says();
  if (key == "ac" || key == "dock") return "false\n";
  if (key == "usb") return fmt::format("{}\n", s.usb);
  if (key == "wireless") return fmt::format("{}\n", s.wireless);
  if (key == "status") return fmt::format("{}\n", static_cast<int>(s.status));
  if (key == "level") return fmt::format("{}\n", s.level_pct);
  if (key == "temp") return fmt::format("{}\n", s.temperature_dc);
  if (key == "present") return "true\n";
  if (key == "counter") return fmt::format("{}\n", s.counter_uah);
  if (key == "invalid") return "0\n";
  return {};
}

std::string thermal(const World& w) {
  const double skin = w.skin_c(), cell = w.pack().cells().front().temperature_c;
  const int status = skin >= 50 ? 3 : skin >= 45 ? 2 : skin >= 42 ? 1 : 0;
  const auto item = [](double c, int type, std::string_view name, int level) {
    return fmt::format("\tTemperature{{mValue={:.1f}, mType={}, mName={}, mStatus={}}}\n", c, type, name,
                       level);
  };
  // The platform's cached list is only renewed on a change of status: it stays as it was at boot.
  return fmt::format(
             "IsStatusOverride: false\nThermalEventListeners:\n\tcallbacks: 2\n\tkilled: false\n"
             "\tbroadcasts count: -1\nThermalStatusListeners:\n\tcallbacks: 5\n\tkilled: false\n"
             "\tbroadcasts count: -1\nThermal Status: {}\nCached temperatures:\n",
             status) +
         item(24.4, 3, "skin", 0) +
         "HAL Ready: true\nHAL connection:\n\tThermalHAL AIDL 1  connected: yes\n" +
         "Current temperatures from HAL:\n" + item(skin + 9.3, 0, "cpu0", 0) + item(skin, 3, "skin", status) +
         item(cell, 2, "battery", 0) + "\tTemperature{mValue=3912.0, mType=6, mName=vbat, mStatus=0}\n" +
         "Current cooling devices from HAL:\n\tCoolingDevice{mValue=0, mType=2, mName=cpu0}\n"
         "\tCoolingDevice{mValue=0, mType=1, mName=battery}\n"
         "Temperature static thresholds from HAL:\n"
         "\tTemperatureThreshold{mType=3, mName=skin, mHotThrottlingThresholds=[NaN, 42.0, 45.0, 50.0, NaN, "
         "NaN, "
         "60.0], mColdThrottlingThresholds=[NaN, NaN, NaN, NaN, NaN, NaN, NaN]}\n";
}

std::optional<std::string> power_supply(const World& w, std::string_view path) {
  const auto slash = path.find('/');
  if (slash == std::string_view::npos) return std::nullopt;
  const auto name = path.substr(0, slash), attribute = path.substr(slash + 1);
  std::optional<std::string> value;
  if (const Gauge* g = w.gauge(name)) value = gauge_file(*g, attribute);
  if (name == "usb" || name == "wireless") {
    if (attribute == "type") value = name == "usb" ? "USB" : "Wireless";
    const bool in = name == "usb" ? w.hands().cable() || w.port().online() : w.coupled();
    if (attribute == "online") value = in ? "1" : "0";
    if (name == "usb" && attribute == "voltage_now")
      value = std::to_string(w.hands().cable() ? 4'980'000 : w.port_uv());
    if (name == "usb" && attribute == "current_now")
      value = std::to_string(w.hands().cable() ? 500'000 : w.port_ua());
    if (name == "usb" && attribute == "current_max")
      value = w.port().online() ? "3000000" : in ? "500000" : "0";
  }
  if (value) *value += '\n';
  return value;
}

std::string link_speed(const World& w) {
  return std::string(w.hands().cable() ? "high-speed" : w.port().speed()) + '\n';
}

std::string power_supplies(const World& w) {
  std::string out;
  for (const auto& c : w.unit().cells) out += c.spec.supply + '\n';
  return out + "usb\nwireless\n";
}
}  // namespace hb::standin::text
