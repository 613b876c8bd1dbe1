#include "commands.hpp"

#include <algorithm>
#include <stdexcept>

namespace hb::phone {

const std::vector<CommandInfo>& command_list() {
  static const std::vector<CommandInfo> list{
      {"device", "getprop ro.product.device", "which model it is, for the profile", "all", "none",
       "whether it equals the profile's"},
      {"model", "getprop ro.product.model", "which model it is, for the profile", "all", "none",
       "whether it equals the profile's"},
      {"sdk", "getprop ro.build.version.sdk", "system version, one number", "all", "none", "the number"},
      {"serial", "getprop ro.serialno", "to tell this phone from others", "all", "the serial number",
       "keyed hash (the key stays in the shop) and the last 4 characters; the serial is wiped"},
      {"uptime", "cat /proc/uptime", "the phone's own clock", "all", "none", "seconds since boot"},
      {"battery", "cat /proc/uptime; dumpsys battery", "combined battery state with the phone's clock", "all",
       "none",
       "power sources, charging limits, charge counter, level, voltage, temperature, status, health, "
       "present, whether frozen"},
      {"cell",
       "cd /sys/class/power_supply/{} 2>/dev/null || exit 3; cat /proc/uptime; for f in present voltage_now "
       "current_now temp charge_counter charge_full charge_full_design cycle_count capacity status; do echo "
       "\"$f=$(cat $f 2>/dev/null)\"; done",
       "one cell's gauge, for the supply that the profile names",
       "all; readable only where the maker left it so", "none", "the ten attributes that are asked for"},
      {"sensors", "dumpsys sensorservice", "recent hinge and motion readings", "8 and newer",
       "names of apps that use sensors, wall-clock times",
       "seconds since boot and values of one sensor type"},
      {"input_devices", "getevent -lp", "which touch panels, side keys and lid switch exist", "all",
       "names of connected keyboards and the like",
       "node numbers, coordinate ranges, volume and power keys and whether held down, lid switch state"},
      {"touch", "getevent -lt /dev/input/event{}",
       "touches on one panel, or side keys, while their check runs", "all", "where the screen was touched",
       "contacts, times, side keys; keyboard keys are dropped unread"},
      {"device_state", "dumpsys device_state", "folded or open", "12 and newer", "none",
       "closed, half open or open; whether forced"},
      {"thermal", "dumpsys thermalservice", "skin and battery temperature", "10 and newer", "none",
       "two temperatures, status number, whether forced"},
      {"cameras", "dumpsys media.camera", "how many cameras the phone sees", "all",
       "names of apps that used a camera, with times", "three counts"},
      {"display_size", "wm size", "size of the display in use", "all", "none",
       "width, height, whether overridden"},
      {"wake", "input keyevent 224", "screen on", "all", "none", "nothing"},
      {"open_page", "am start -a android.intent.action.VIEW -d 'http://{}.localhost:{}/{}/'",
       "opens the test page that this bench serves, in the phone's browser", "all", "none",
       "whether it was opened"},
      {"start_load",
       "for i in {}; do timeout {} sh -c 'while :; do :; done' >/dev/null 2>&1 & done; echo started",
       "a known load on the battery that ends by itself", "8 and newer", "none", "whether it started"},
      {"stop_load", "pkill -f '[w]hile :; do :; done'; echo stopped", "ends the load early", "8 and newer",
       "none", "nothing"},
      {"supply",
       "cd /sys/class/power_supply/{} 2>/dev/null || exit 3; cat /proc/uptime; for f in online voltage_now "
       "current_now current_max; do echo \"$f=$(cat $f 2>/dev/null)\"; done",
       "what the charging port takes, for the supply that the profile names",
       "all; readable only where the maker left it so", "none", "the four attributes that are asked for"},
      {"link_speed", "cat /sys/class/udc/{}/current_speed", "speed of the data link by cable",
       "all; readable only where the maker left it so", "none", "the speed"},
      {"wifi",
       "settings get global wifi_on; cmd wifi status | grep -o -E 'Wifi is (enabled|disabled)|RSSI: -[0-9]+'",
       "whether Wi-Fi is up, and the level of the joined network", "11 and newer",
       "none: names and addresses are cut off on the phone", "switch, state, level"},
      {"bluetooth",
       "settings get global bluetooth_on; dumpsys bluetooth_manager | grep -m 1 -o -E '^ *state: [A-Z_]+'",
       "whether Bluetooth is up", "all", "none: names and addresses are cut off on the phone",
       "switch, state"},
      {"nfc", "dumpsys nfc | grep -m 1 -o -E '^mState=(on|off|turning on|turning off)'",
       "whether near-field communication is up", "all", "none: all but its state is cut off on the phone",
       "the state"},
      {"sim", "getprop gsm.sim.state", "whether a SIM is read", "all", "none",
       "how many slots have a card, and of how many it is loaded"},
      {"mobile",
       "dumpsys telephony.registry | grep -E '^ *mSignalStrength=' | "
       "grep -o -E ' rsrp=-?[0-9]+| ssRsrp = -?[0-9]+'",
       "the level of the mobile network", "10 and newer",
       "none: numbers, names and places are cut off on the phone", "two levels"},
      {"fingerprint",
       "dumpsys biometric | grep -E '^Sensors:|^ *ID\\(' | grep -o -E '^Sensors:|modality [0-9]+'",
       "whether the system lists a fingerprint reader", "12 and newer",
       "none: all but the kind of each sensor is cut off on the phone", "the number of fingerprint readers"},
      {"vibrate", "cmd vibrator_manager synced -f -B oneshot {} 255",
       "starts the vibration motor for a moment", "12 and newer", "none", "whether it was accepted"},
  };
  return list;
}

namespace detail {
namespace {
Error bad_slot(Term what, Term expected) {
  return {ErrorCode::invalid_argument, what.str() + ": expected " + expected.str(), "phone command",
          "correct the profile or the call"};
}

template <class Allowed>
bool made_of(const std::string& s, std::size_t longest, Allowed allowed) {
  return !s.empty() && s.size() <= longest && std::all_of(s.begin(), s.end(), allowed);
}
bool lower_or_digit(char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'); }
bool supply_character(char c) { return lower_or_digit(c) || (c >= 'A' && c <= 'Z') || c == '_' || c == '-'; }
}  // namespace

Command Command::filled(CommandId id, std::initializer_list<std::string> slots) {
  std::string_view rest = command_list().at(static_cast<unsigned>(id)).text.view();
  std::string out;
  for (const auto& slot : slots) {
    const auto at = rest.find("{}");
    if (at == std::string_view::npos) throw std::logic_error("a command has fewer slots than values");
    out.append(rest.substr(0, at)).append(slot);
    rest.remove_prefix(at + 2);
  }
  if (rest.find("{}") != std::string_view::npos) throw std::logic_error("a command has an empty slot");
  return Command(out.append(rest));
}

Command Command::plain(CommandId id) { return filled(id, {}); }

Result<Command> Command::cell(const std::string& supply) {
  if (!made_of(supply, 32, supply_character))
    return bad_slot("power supply name", "1 to 32 letters, digits, _ or -");
  return filled(CommandId::cell, {supply});
}

Result<Command> Command::supply(const std::string& supply) {
  if (!made_of(supply, 32, supply_character))
    return bad_slot("power supply name", "1 to 32 letters, digits, _ or -");
  return filled(CommandId::supply, {supply});
}

Result<Command> Command::link_speed(const std::string& udc) {
  const auto allowed = [](char c) { return supply_character(c) || c == '.'; };
  if (!made_of(udc, 32, allowed) || udc.front() == '.')
    return bad_slot("USB controller name", "1 to 32 letters, digits, _, - or ., no . first");
  return filled(CommandId::link_speed, {udc});
}

Result<Command> Command::vibrate(int ms) {
  if (ms < 1 || ms > 2000) return bad_slot("vibration time", "1 to 2000 ms");
  return filled(CommandId::vibrate, {std::to_string(ms)});
}

Result<Command> Command::touch(int node) {
  if (node < 0 || node > 999) return bad_slot("input device number", "0 to 999");
  return filled(CommandId::touch, {std::to_string(node)});
}

Result<Command> Command::open_page(const std::string& host, std::uint16_t port, const std::string& token) {
  if (!made_of(host, 63, lower_or_digit)) return bad_slot("page host", "1 to 63 of a-z and 0-9");
  if (port == 0) return bad_slot("page port", "1 to 65535");
  if (!made_of(token, 64, lower_or_digit)) return bad_slot("page token", "1 to 64 of a-z and 0-9");
  return filled(CommandId::open_page, {host, std::to_string(port), token});
}

Result<Command> Command::start_load(int seconds, int workers) {
  if (seconds < 1 || seconds > 60) return bad_slot("load time", "1 to 60 s");
  if (workers < 1 || workers > 8) return bad_slot("load workers", "1 to 8");
  std::string each = "1";
  for (int i = 2; i <= workers; ++i) each += " " + std::to_string(i);
  return filled(CommandId::start_load, {each, std::to_string(seconds)});
}
}  // namespace detail
}  // namespace hb::phone
