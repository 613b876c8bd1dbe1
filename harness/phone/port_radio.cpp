// The charging port's supply (kernel documentation, ABI/testing/sysfs-class-power), the USB controller's link
// speed (ABI/stable/sysfs-class-udc) and the state of the radios (AOSP: `cmd wifi status` and
// BluetoothManagerService.java, from memory; NfcService.java, stateToString; IccCardConstants.java, State;
// TelephonyRegistry.java with CellSignalStrengthLte.java and CellSignalStrengthNr.java, toString). Numbers
// and closed words only.
#include <algorithm>
#include <array>

#include "detail/scan.hpp"
#include "harness/base/text.hpp"
#include "harness/phone/phone.hpp"

namespace hb::phone {
namespace {
using namespace detail;

/// Global settings of a radio's switch: 0 off, 1 on, 2 on in airplane mode, 3 off by airplane mode.
std::optional<bool> radio_switch(std::string_view line) {
  const auto n = whole_in(trim(line), 0, 3);
  if (!n) return std::nullopt;
  return *n == 1 || *n == 2;
}
}  // namespace

Result<SupplyReading> parse_supply(std::string_view text) {
  SupplyReading r;
  FirstOnly keys;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    if (lines.number() == 1) r.uptime_s = uptime_line(*line);
    const auto kv = key_value(*line, '=');
    if (!kv) continue;
    if (kv->key == "online" && keys.first(0)) {
      if (const auto n = whole_in(kv->value, 0, 2)) r.online = *n > 0;
    } else if (kv->key == "voltage_now" && keys.first(1)) {
      r.voltage_mv = scaled(kv->value, 1000);
    } else if (kv->key == "current_now" && keys.first(2)) {
      r.current_ma = scaled(kv->value, 1000);
    } else if (kv->key == "current_max" && keys.first(3)) {
      r.current_max_ma = scaled(kv->value, 1000);
    }
  }
  if (!keys.any() && !r.uptime_s && !trim(text).empty() && !contains(text, "ermission denied") &&
      !contains(text, "No such file"))
    return unreadable("supply", 1);
  return r;
}

Result<double> parse_link_speed(std::string_view text) {
  struct Row {
    std::string_view word;
    double mbit_s;
  };
  // The words of the kernel's usb_speed_string(); rates: USB 2.0 and USB 3.2.
  static constexpr std::array<Row, 6> rows{{{"UNKNOWN", 0},
                                            {"low-speed", 1.5},
                                            {"full-speed", 12},
                                            {"high-speed", 480},
                                            {"super-speed", 5000},
                                            {"super-speed-plus", 10000}}};
  for (const auto& r : rows)
    if (trim(text) == r.word) return r.mbit_s;
  return nothing_found("link speed", text);
}

Result<RadioReading> parse_wifi(std::string_view text) {
  RadioReading r;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto s = trim(*line);
    if (lines.number() == 1) r.switched_on = radio_switch(s);
    if (s == "Wifi is enabled") r.up = true;
    if (s == "Wifi is disabled") r.up = false;
    // The last one: a network's name, which stands before the level, cannot pose as it.
    if (const auto level = after(s, "RSSI: "))
      if (const auto dbm = whole_in(*level, -126, -1)) r.level_dbm = *dbm;
  }
  if (!r.switched_on && !r.up) return nothing_found("wifi", text);
  if (r.up != true) r.level_dbm.reset();
  return r;
}

Result<RadioReading> parse_bluetooth(std::string_view text) {
  RadioReading r;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    if (lines.number() == 1) r.switched_on = radio_switch(*line);
    if (r.up) continue;
    if (const auto state = after(trim(*line), "state: ")) {
      if (*state == "ON") r.up = true;
      if (*state == "OFF" || *state == "TURNING_ON" || *state == "TURNING_OFF" || *state == "BLE_ON" ||
          *state == "BLE_TURNING_ON" || *state == "BLE_TURNING_OFF")
        r.up = false;
    }
  }
  if (!r.switched_on && !r.up) return nothing_found("bluetooth", text);
  return r;
}

Result<RadioReading> parse_nfc(std::string_view text) {
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto state = after(trim(*line), "mState=");
    if (!state) continue;
    RadioReading r;
    if (*state == "on") r.up = true;
    if (*state == "off" || *state == "turning on" || *state == "turning off") r.up = false;
    if (!r.up) return unreadable("nfc", lines.number());
    return r;
  }
  return nothing_found("nfc", text);
}

Result<SimReading> parse_sim(std::string_view text) {
  struct Row {
    std::string_view word;
    int told, read, loaded;
  };
  static constexpr std::array<Row, 11> rows{{{"UNKNOWN", 0, 0, 0},
                                             {"NOT_READY", 0, 0, 0},
                                             {"ABSENT", 1, 0, 0},
                                             {"CARD_IO_ERROR", 1, 0, 0},
                                             {"PIN_REQUIRED", 1, 1, 0},
                                             {"PUK_REQUIRED", 1, 1, 0},
                                             {"NETWORK_LOCKED", 1, 1, 0},
                                             {"PERM_DISABLED", 1, 1, 0},
                                             {"CARD_RESTRICTED", 1, 1, 0},
                                             {"READY", 1, 1, 0},
                                             {"LOADED", 1, 1, 1}}};
  constexpr std::size_t kSlots = 8;
  SimReading r;
  bool known = false;
  std::string_view line = trim(text);
  line = line.substr(0, line.find('\n'));
  auto slots = split(line, ',');
  slots.resize(std::min(slots.size(), kSlots));
  for (const auto slot : slots)
    for (const auto& row : rows)
      if (trim(slot) == row.word)
        known = true, r.told += row.told, r.read += row.read, r.loaded += row.loaded;
  if (!known) return nothing_found("sim", text);
  return r;
}

Result<MobileReading> parse_mobile(std::string_view text) {
  MobileReading r;
  bool told = false;
  // 2147483647 (CellInfo.UNAVAILABLE) lies outside: not reported.
  const auto level = [&told](std::string_view s, std::optional<int>& into) {
    told = true;
    if (!into) into = whole_in(s, -156, -31);
  };
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto s = trim(*line);
    if (const auto lte = after(s, "rsrp=")) level(*lte, r.lte_dbm);
    if (const auto nr = after(s, "ssRsrp = ")) level(*nr, r.nr_dbm);
  }
  if (!told) return nothing_found("mobile", text);
  return r;
}
}  // namespace hb::phone
