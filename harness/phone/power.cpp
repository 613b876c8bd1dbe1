// `dumpsys battery` (AOSP BatteryService.java) and /sys/class/power_supply (kernel documentation,
// ABI/testing/sysfs-class-power: microvolt, microampere, microampere-hour, tenths of a degree).
#include <array>

#include "detail/scan.hpp"
#include "harness/base/text.hpp"
#include "harness/phone/phone.hpp"

namespace hb::phone {
namespace {
using namespace detail;

template <std::size_t N>
std::optional<unsigned> index_of(const std::array<std::string_view, N>& names, std::string_view key) {
  for (unsigned i = 0; i < N; ++i)
    if (names[i] == key) return i;
  return std::nullopt;
}

constexpr std::array<std::string_view, 13> kBatteryKeys{"AC powered",
                                                        "USB powered",
                                                        "Wireless powered",
                                                        "Dock powered",
                                                        "Max charging current",
                                                        "Max charging voltage",
                                                        "Charge counter",
                                                        "status",
                                                        "health",
                                                        "present",
                                                        "level",
                                                        "voltage",
                                                        "temperature"};

std::optional<ChargeStatus> status_number(std::string_view v) {
  const auto n = whole_in(v, 1, 5);
  if (!n) return std::nullopt;
  return static_cast<ChargeStatus>(*n);
}

void take_battery_key(BatteryReading& r, unsigned key, std::string_view v) {
  switch (key) {
    case 0:
      r.ac = true_false(v);
      break;
    case 1:
      r.usb = true_false(v);
      break;
    case 2:
      r.wireless = true_false(v);
      break;
    case 3:
      r.dock = true_false(v);
      break;
    case 4:
      r.max_charging_ma = scaled(v, 1000);
      break;
    case 5:
      r.max_charging_mv = scaled(v, 1000);
      break;
    case 6:
      r.charge_counter_mah = scaled(v, 1000);
      break;
    case 7:
      r.status = status_number(v);
      break;
    case 8:
      r.health = whole_in(v, 1, 7);
      break;
    case 9:
      r.present = true_false(v);
      break;
    case 10:
      r.level_pct = whole_in(v, 0, 100);
      break;
    case 11:
      r.voltage_mv = scaled(v, 1);
      break;
    case 12:
      r.temperature_c = scaled(v, 10);
      break;
    default:
      break;
  }
}

constexpr std::array<std::string_view, 10> kCellKeys{
    "present",     "voltage_now",        "current_now", "temp",     "charge_counter",
    "charge_full", "charge_full_design", "cycle_count", "capacity", "status"};

std::optional<ChargeStatus> status_word(std::string_view v) {
  constexpr std::array<std::string_view, 5> words{"Unknown", "Charging", "Discharging", "Not charging",
                                                  "Full"};
  const auto i = index_of(words, v);
  if (!i) return std::nullopt;
  return static_cast<ChargeStatus>(*i + 1);
}

std::optional<bool> zero_one(std::string_view v) {
  if (v == "1") return true;
  if (v == "0") return false;
  return std::nullopt;
}

bool take_cell_key(CellReading& r, unsigned key, std::string_view v) {
  switch (key) {
    case 0:
      return (r.present = zero_one(v)).has_value();
    case 1:
      return (r.voltage_mv = scaled(v, 1000)).has_value();
    case 2:
      return (r.current_ma = scaled(v, 1000)).has_value();
    case 3:
      return (r.temperature_c = scaled(v, 10)).has_value();
    case 4:
      return (r.charge_counter_mah = scaled(v, 1000)).has_value();
    case 5:
      return (r.charge_full_mah = scaled(v, 1000)).has_value();
    case 6:
      return (r.charge_full_design_mah = scaled(v, 1000)).has_value();
    case 7:
      return (r.cycle_count = whole_in(v, 0, 1'000'000)).has_value();
    case 8:
      return (r.capacity_pct = whole_in(v, 0, 100)).has_value();
    case 9:
      return (r.status = status_word(v)).has_value();
    default:
      return false;
  }
}
}  // namespace

Result<BatteryReading> parse_battery(std::string_view text) {
  BatteryReading r;
  FirstOnly keys;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    if (lines.number() == 1) r.uptime_s = uptime_line(*line);
    const auto kv = key_value(*line, ':');
    if (!kv) continue;
    const auto key = index_of(kBatteryKeys, kv->key);
    if (key && keys.first(*key)) take_battery_key(r, *key, kv->value);
  }
  // Either half of the remark is enough: a frozen battery must never look live.
  r.updates_stopped = contains(text, "(UPDATES") || contains(text, "STOPPED --");
  if (!keys.any()) return nothing_found("battery", text);
  return r;
}

Result<CellReading> parse_cell(std::string_view text) {
  CellReading r;
  FirstOnly keys;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    if (lines.number() == 1) r.uptime_s = uptime_line(*line);
    const auto kv = key_value(*line, '=');
    if (!kv) continue;
    const auto key = index_of(kCellKeys, kv->key);
    if (key && keys.first(*key) && take_cell_key(r, *key, kv->value)) r.readable = true;
  }
  if (!keys.any() && !r.uptime_s && !trim(text).empty() && !contains(text, "ermission denied") &&
      !contains(text, "No such file"))
    return unreadable("cell", 1);
  return r;
}
}  // namespace hb::phone
