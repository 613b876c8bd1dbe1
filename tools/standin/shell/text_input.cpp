#include <fmt/format.h>

#include <cmath>

#include "tools/standin/shell/canaries.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin::text {
namespace {
std::string key_label(std::string_view name, bool active) {
  return fmt::format(" {:.20}{}{:{}}", name, active ? '*' : ' ', "", name.size() < 20 ? 20 - name.size() : 0);
}
std::string axis(std::string_view head, std::string_view name, int max, int value = 0) {
  return fmt::format("{}{} : value {}, min 0, max {}, fuzz 0, flat 0, resolution 0\n", head,
                     key_label(name, false), value, max);
}

std::string touch_device(int number, const PanelSpec& p) {
  return fmt::format("add device {}: /dev/input/event{}\n  name:     \"velmora_touch_{}\"\n  events:\n",
                     number, p.node, p.part) +
         "    KEY (0001):" + key_label("BTN_TOUCH", false) + "\n" +
         axis("    ABS (0003):", "ABS_MT_SLOT", Digitizer::kSlots - 1) +
         axis("               ", "ABS_MT_POSITION_X", p.width_px - 1) +
         axis("               ", "ABS_MT_POSITION_Y", p.height_px - 1) +
         axis("               ", "ABS_MT_TRACKING_ID", 65535) + "  input props:\n    INPUT_PROP_DIRECT\n";
}

std::string type_label(std::uint16_t type) {
  switch (type) {
    case 0:
      return "EV_SYN";
    case 1:
      return "EV_KEY";
    case 3:
      return "EV_ABS";
    case 5:
      return "EV_SW";
    default:
      return fmt::format("{:04x}", type);
  }
}
std::string code_label(std::uint16_t type, std::uint16_t code) {
  if (type == 0 && code == 0) return "SYN_REPORT";
  if (type == 1 && code == 0x14a) return "BTN_TOUCH";
  if (type == 1 && code == 114) return "KEY_VOLUMEDOWN";
  if (type == 1 && code == 115) return "KEY_VOLUMEUP";
  if (type == 1 && code == 116) return "KEY_POWER";
  if (type == 5 && code == 0) return "SW_LID";
  if (type == 3) switch (code) {
      case 0x2f:
        return "ABS_MT_SLOT";
      case 0x35:
        return "ABS_MT_POSITION_X";
      case 0x36:
        return "ABS_MT_POSITION_Y";
      case 0x39:
        return "ABS_MT_TRACKING_ID";
      default:
        break;
    }
  return fmt::format("{:04x}", code);
}
}  // namespace

std::string input_devices(const World& w) {
  int number = 1;
  std::string out;
  for (const auto& p : w.unit().model->panels) out += touch_device(number++, p);
  out += fmt::format("add device {}: /dev/input/event0\n  name:     \"velmora-keys\"\n  events:\n", number++);
  out += "    KEY (0001):" + key_label("KEY_VOLUMEDOWN", w.key_down(114)) +
         key_label("KEY_VOLUMEUP", w.key_down(115)) + key_label("KEY_POWER", w.key_down(116)) + "\n";
  if (w.hinge() != nullptr) out += "    SW  (0005):" + key_label("SW_LID", w.lid_closed()) + "\n";
  out += "  input props:\n    <none>\n";
  out += fmt::format("add device {}: /dev/input/event9\n  name:     \"{}\"\n  events:\n", number,
                     canary("bluetooth"));
  out += "    KEY (0001):" + key_label("KEY_PLAYCD", false) + key_label("KEY_PAUSECD", false) + "\n";
  return out + "  input props:\n    <none>\n";
}

std::string input_event(const World& w, const RawEvent& e, bool labels) {
  const double s = w.uptime_s(e.t_us);
  const auto us = std::llround(s * 1e6);
  const auto stamp = fmt::format("[{:8}.{:06}] ", us / 1'000'000, us % 1'000'000);
  const auto value = fmt::format("{:08x}", static_cast<std::uint32_t>(e.value));
  if (!labels) return fmt::format("{}{:04x} {:04x} {}\n", stamp, e.type, e.code, value);
  return fmt::format("{}{:<12} {:<20} {:<20}\n", stamp, type_label(e.type), code_label(e.type, e.code),
                     e.type == 1 ? std::string(e.value != 0 ? "DOWN" : "UP") : value);
}

std::string input_dump(const World& w) {
  std::string out =
      "INPUT MANAGER (dumpsys input)\n\nEvent Hub State:\n  BuiltInKeyboardId: -2\n  Devices:\n";
  int number = 1;
  for (const auto& p : w.unit().model->panels)
    out += fmt::format(
        "    {}: velmora_touch_{}\n      Classes: TOUCH | TOUCH_MT\n      Path: /dev/input/event{}\n"
        "      Enabled: true\n",
        number++, p.part, p.node);
  out += fmt::format(
      "    {}: {}\n      Classes: KEYBOARD | EXTERNAL\n      Path: /dev/input/event9\n"
      "      Identifier: bus=0x0005, vendor=0x0000, product=0x0000, version=0x0000, "
      "bluetoothAddress={}\n",
      number, canary("bluetooth"), canary("mac"));
  return out +
         fmt::format("Input Dispatcher State:\n  FocusedWindows:\n    displayId=0, name='{}/.Editor {}'\n",
                     canary("app"), canary("window"));
}
}  // namespace hb::standin::text
