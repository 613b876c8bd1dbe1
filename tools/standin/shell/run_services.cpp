// The phone's services as the shell reaches them.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

#include "harness/base/text.hpp"
#include "tools/standin/shell/run.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin {
int CommandRun::dumpsys(const Words& w) {
  const World& phone = world();
  const std::string service = w.size() > 1 ? w[1] : "-l";
  std::string out;
  std::optional<gossip::Place> gossip;
  if (service == "battery")
    out = text::battery(phone), gossip = gossip::Place::battery;
  else if (service == "sensorservice")
    out = text::sensors(phone), gossip = gossip::Place::sensors;
  else if (service == "biometric")
    out = text::biometric(phone), gossip = gossip::Place::biometric;
  else if (service == "device_state")
    out = text::device_state(phone), gossip = gossip::Place::device_state;
  else if (service == "thermalservice")
    out = text::thermal(phone), gossip = gossip::Place::thermal;
  else if (service == "media.camera")
    out = text::cameras(phone), gossip = gossip::Place::cameras;
  else if (service == "display")
    out = text::display(phone);
  else if (service == "input")
    out = text::input_dump(phone);
  else if (service == "usb")
    out = text::usb(phone), gossip = gossip::Place::usb;
  else if (service == "notification")
    out = text::notifications(phone);
  else if (service == "wifi")
    out = text::wifi(phone), gossip = gossip::Place::wifi;
  else if (service == "bluetooth_manager")
    out = text::bluetooth(phone), gossip = gossip::Place::bluetooth;
  else if (service == "telephony.registry")
    out = text::telephony(phone), gossip = gossip::Place::telephony;
  else if (service == "nfc")
    out = text::nfc(phone), gossip = gossip::Place::nfc;
  else if (service == "account")
    out = text::accounts(phone);
  else if (service == "-l")
    out =
        "Currently running services:\n  account\n  battery\n  biometric\n  bluetooth_manager\n"
        "  device_state\n  display\n  input\n  media.camera\n  nfc\n  notification\n  sensorservice\n"
        "  telephony.registry\n  thermalservice\n  usb\n  wifi\n";
  else
    complain(fmt::format("Can't find service: {}\n", service));
  print(out);
  if (gossip) gossip_out(*gossip);
  return 0;
}

int CommandRun::cmd(const Words& w) {
  if (w.size() >= 3 && w[1] == "device_state") {
    if (w[2] == "state" && w.size() > 3) {
      complain("Error: Access denied. CONTROL_DEVICE_STATE is required\n");
      return 255;
    }
    const auto out = text::cmd_device_state(world(), w[2]);
    print(out);
    return out.empty() ? 255 : 0;
  }
  if (w.size() >= 4 && w[1] == "battery" && w[2] == "get") {
    const auto out = text::battery_get(world(), w.back());
    print(out.empty() ? "Unknown get option: " + w.back() + "\n" : out);
    return 0;
  }
  if (w.size() >= 5 && w[1] == "vibrator_manager" && w[2] == "synced") {
    const auto at = std::find(w.begin(), w.end(), "oneshot");
    const auto ms = at != w.end() && at + 1 != w.end() ? to_int(*(at + 1)) : std::nullopt;
    if (!ms || *ms < 1 || *ms > 60'000) {
      complain("Error: no valid duration\n");
      return 255;
    }
    gossip_err(gossip::Place::vibrator);
    world().vibrate(static_cast<double>(*ms) / 1000);
    return 0;
  }
  if (w.size() >= 3 && w[1] == "wifi" && w[2] == "status") {
    print(text::wifi_status(world()));
    gossip_err(gossip::Place::wifi);
    return 0;
  }
  complain(fmt::format("cmd: Can't find service: {}\n", w.size() > 1 ? w[1] : std::string()));
  return 20;
}

int CommandRun::settings(const Words& w) {
  if (w[0] == "svc" && w.size() == 4 && w[1] == "power" && w[2] == "stayon") {
    static constexpr std::array<std::pair<std::string_view, int>, 6> modes{
        {{"false", 0}, {"ac", 1}, {"usb", 2}, {"wireless", 4}, {"dock", 8}, {"true", 15}}};
    for (const auto& [mode, bits] : modes)
      if (w[3] == mode) shell_.stay_on_ = bits;
    return 0;
  }
  const bool stay_on = w.size() > 3 && w[2] == "global" && w[3] == "stay_on_while_plugged_in";
  if (w[0] == "settings" && w.size() == 4 && w[1] == "get") {
    const bool radio = w[3] == "wifi_on" || w[3] == "bluetooth_on";
    print(stay_on ? fmt::format("{}\n", shell_.stay_on_) : radio ? "1\n" : "null\n");
    return 0;
  }
  if (w[0] == "settings" && w.size() == 5 && w[1] == "put" && stay_on) {
    shell_.stay_on_ = static_cast<int>(to_int(w[4]).value_or(0) & 15);
    return 0;
  }
  complain("usage: settings get|put NAMESPACE KEY [VALUE]\n");
  return 255;
}

int CommandRun::am(const Words& w) {
  const auto at = std::find(w.begin(), w.end(), "-d");
  if (w.size() < 2 || w[1] != "start" || at == w.end() || at + 1 == w.end()) {
    complain("Error: No intent supplied\n");
    return 1;
  }
  const std::string& url = *(at + 1);
  const auto host_end = url.find('/', url.find("//") + 2);
  print(fmt::format("Starting: Intent {{ act=android.intent.action.VIEW dat={}/... }}\n",
                    url.substr(0, host_end)));
  gossip_out(gossip::Place::open_page);
  if (url.starts_with("http://") && url.substr(0, url.find(':', 7)).ends_with(".localhost") &&
      shell_.on_open_url)
    shell_.on_open_url(url);
  else
    complain(
        "Error: Activity not started, unable to resolve Intent { act=android.intent.action.VIEW "
        "flg=0x10000000 }\n");
  return 0;
}
}  // namespace hb::standin
