#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "tools/standin/physics/noise.hpp"
#include "tools/standin/shell/canaries.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin {
std::string serial_of(std::uint64_t seed) {
  if (seed == 1) return std::string(canary("serial"));
  static constexpr std::string_view letters = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789";
  const std::string_view head = canary("serial_head");
  std::vector<char> out(head.begin(), head.end());
  for (std::uint64_t bits = mixed(seed); out.size() < 16; bits >>= 5) out.push_back(letters[bits & 31]);
  return {out.begin(), out.end()};
}
}  // namespace hb::standin

namespace hb::standin::text {
namespace {
/// IccCardConstants.State, one a slot.
std::string sim_state(const World& w) {
  const RadioUnit& radio = w.unit().radio;
  const bool loose = radio.sim_in && radio.sim_lost > 0 && radio.sim_lost < 1;
  std::string out = radio.reads_sim(w.uptime_s(w.now_us())) ? "LOADED" : loose ? "CARD_IO_ERROR" : "ABSENT";
  return w.unit().model->esim ? out + ",NOT_READY" : out;
}

std::vector<std::pair<std::string, std::string>> property_list(const World& w) {
  const ModelSpec& m = *w.unit().model;
  const std::string serial = serial_of(w.unit().seed);
  return {{"gsm.operator.alpha", std::string(canary("person")) + " Mobile"},
          {"gsm.sim.state", sim_state(w)},
          {"net.hostname", std::string(canary("hostname"))},
          {"persist.radio.imei", std::string(canary("imei"))},
          {"persist.sys.device_name", std::string(canary("person")) + "'s " + m.display_name},
          {"persist.sys.timezone", "Europe/Vaduz"},
          {"ro.adb.secure", "1"},
          {"ro.boot.flash.locked", "1"},
          {"ro.boot.serialno", serial},
          {"ro.boot.verifiedbootstate", "green"},
          {"ro.build.characteristics", "default"},
          {"ro.build.display.id", "VUI3.251007.002"},
          {"ro.build.fingerprint",
           "Velmora/" + m.product + "/" + m.device + ":15/VUI3.251007.002/4412:user/release-keys"},
          {"ro.build.id", "VUI3.251007.002"},
          {"ro.build.type", "user"},
          {"ro.build.version.release", "15"},
          {"ro.build.version.sdk", "35"},
          {"ro.build.version.security_patch", "2025-10-05"},
          {"ro.hardware", "velm8"},
          {"ro.product.board", m.device},
          {"ro.product.brand", "Velmora"},
          {"ro.product.device", m.device},
          {"ro.product.manufacturer", "Velmora"},
          {"ro.product.model", m.model},
          {"ro.product.name", m.product},
          {"ro.serialno", serial},
          {"ro.sf.lcd_density", "420"},
          {"sys.boot_completed", "1"},
          {"wifi.interface.mac", std::string(canary("mac"))}};
}
}  // namespace

std::string properties(const World& w) {
  std::string out;
  for (const auto& [key, value] : property_list(w)) out += fmt::format("[{}]: [{}]\n", key, value);
  return out;
}

std::string property(const World& w, std::string_view key) {
  for (const auto& [k, value] : property_list(w))
    if (k == key) return value;
  return {};
}

std::string notifications(const World&) {
  return fmt::format(
      "Current Notification Manager state:\n  Notification List:\n"
      "    NotificationRecord(0x0b1c: pkg={} user=UserHandle{{0}} id=7 tag=null importance=4)\n"
      "      extras={{\n        android.title=String [length=15]: {}\n        android.text=String: {}\n      "
      "}}\n"
      "    NotificationRecord(0x0b2d: pkg={} user=UserHandle{{0}} id=2 tag=null importance=3)\n"
      "      extras={{\n        android.title=String: {}\n        android.text=String: call me back on {}\n  "
      "    }}\n",
      canary("package"), canary("person"), canary("notification"), canary("app"), canary("contact"),
      canary("phone_number"));
}

std::string wifi_status(const World& w) {
  const RadioUnit& radio = w.unit().radio;
  if (radio.wifi_dead) return "Wifi is disabled\nWifi scanning is always available\n";
  const Noise air(w.unit().seed, "air");
  const auto level = std::lround(
      radio.wifi_dbm + radio.spread_db * air.gauss(static_cast<std::uint64_t>(w.now_us() / 100'000)));
  return fmt::format(
      "Wifi is enabled\nWifi scanning is always available\n==== Primary ClientModeManager instance ====\n"
      "Wifi is connected to \"{0}\"\nWifiInfo: SSID: \"{0}\", BSSID: {1}, MAC: {2}, IP: /192.0.2.41, "
      "Security type: 4, Supplicant state: COMPLETED, Wi-Fi standard: 6, RSSI: {3}, Link speed: 866Mbps\n",
      canary("ssid"), canary("bssid"), canary("mac"), level);
}

std::string wifi(const World& w) {
  return fmt::format(
      "Wi-Fi is enabled\nStay-awake conditions: 0\n{}WifiConfigManager - Configured networks Begin ----\n"
      "ID: 0 SSID: \"{}\" PROVIDER-NAME: null BSSID: null\n"
      "ID: 1 SSID: \"{}\" PROVIDER-NAME: null BSSID: null\n"
      "WifiConfigManager - Configured networks End ----\n",
      wifi_status(w), canary("ssid"), canary("old_ssid"));
}

std::string bluetooth(const World& w) {
  return fmt::format(
      "Bluetooth Status\n  enabled: true\n  state: ON\n  address: {}\n  name: {}'s {}\n"
      "  time since enabled: 01:22:09.001\n\nBonded devices:\n  {} [ DUAL ] {}\n",
      canary("mac"), canary("person"), w.unit().model->display_name, canary("bssid"), canary("hostname"));
}

std::string telephony(const World& w) {
  const RadioUnit& radio = w.unit().radio;
  const Noise air(w.unit().seed, "mobile air");
  const auto rsrp =
      std::lround(radio.mobile_dbm +
                  radio.mobile_spread_db * air.gauss(static_cast<std::uint64_t>(w.now_us() / 100'000)));
  static constexpr int kNone = 2147483647;  // CellInfo.UNAVAILABLE
  const auto lte = [](long rsrp_dbm) {
    return fmt::format(
        "CellSignalStrengthLte: rssi={} rsrp={} rsrq=-11 rssnr={} cqiTableIndex={} cqi={} ta={} level=3 "
        "parametersUseForLevel=0",
        std::clamp(rsrp_dbm + 28, -113L, -51L), rsrp_dbm, kNone, kNone, kNone, kNone);
  };
  const auto nr = fmt::format(
      "CellSignalStrengthNr:{{ csiRsrp = {0} csiRsrq = {0} csiCqiTableIndex = {0} csiCqiReport = [] ssRsrp = "
      "{0} "
      "ssRsrq = {0} ssSinr = {0} level = 0 parametersUseForLevel = 0 timingAdvance = {0} }}",
      kNone);
  const auto phone = [&](int id, const std::string& lte_text) {
    return fmt::format(
        "  Phone Id={0}\n    mCallState=0\n    mCallIncomingNumber={2}\n"
        "    mServiceState={{mVoiceRegState=0(IN_SERVICE), mDataRegState=0(IN_SERVICE), "
        "mOperatorAlphaLong={3} Mobile, mOperatorNumeric=99942}}\n"
        "    mSignalStrength=SignalStrength:{{mCdma=CellSignalStrengthCdma: cdmaDbm={1} cdmaEcio={1} "
        "evdoDbm={1} "
        "evdoEcio={1} evdoSnr={1} level=0,mGsm=CellSignalStrengthGsm: rssi={1} ber={1} mTa={1} mLevel=0,"
        "mWcdma=CellSignalStrengthWcdma: ss={1} ber={1} rscp={1} ecno={1} level=0,"
        "mTdscdma=CellSignalStrengthTdscdma: rssi={1} ber={1} rscp={1} level=0,mLte={4},mNr={5},"
        "primary=CellSignalStrengthLte}}\n",
        id, kNone, canary("phone_number"), canary("person"), lte_text, nr);
  };
  const std::string silent = fmt::format(
      "CellSignalStrengthLte: rssi={0} rsrp={0} rsrq={0} rssnr={0} cqiTableIndex={0} cqi={0} ta={0} level=0 "
      "parametersUseForLevel=0",
      kNone);
  return "last known state:\n" + phone(0, lte(rsrp)) +
         // Another cell, heard better than the one in use: no level of this phone's service.
         fmt::format(
             "    mCellIdentity=CellIdentityLte:{{ mCi=31415927 mPci=271 mTac=8128 mAlphaLong={} }}\n"
             "    mCellInfo=[CellInfoLte:{{mRegistered=NO {}}}]\n",
             canary("contact"), lte(-60)) +
         (w.unit().model->esim ? phone(1, silent) : std::string()) +
         fmt::format("  mActiveDataSubId=1\nlocal logs:\n  listen: {}\n", canary("package"));
}

std::string nfc(const World& w) {
  return fmt::format(
      "mState={}\nmAlwaysOnState=off\nmScreenState=ON_UNLOCKED\nmIsSecureNfcEnabled=false\n"
      "Preferred payment service: {}/.Pay\nmIsTagAppPrefSupported =true\npkg: {} : true\n",
      w.unit().radio.nfc_dead ? "off" : "on", canary("package"), canary("app"));
}

std::string accounts(const World&) {
  return fmt::format(
      "User UserInfo{{0:{}:c13}}:\n  Accounts: 1\n    Account {{name={}, type=example.mail}}\n\n"
      "  AccountId, Action_Type, timestamp, UID, TableName, Key\n  Accounts History\n"
      "  1,action_account_add,2025-02-11 19:02:51,10144,accounts,0\n",
      canary("person"), canary("account"));
}

std::string usb(const World& w) {
  return fmt::format(
      "USB MANAGER STATE (dumpsys usb):\n{{\n  device_manager={{\n    handler={{\n"
      "      current_functions=ADB\n      connected={0}\n      configured={0}\n    }}\n"
      "    usb_device_serial={1}\n  }}\n  port_manager={{\n    ports=[\n      {{ usb_port={{ id=port0 "
      "supported_modes=dual }} status={{ connected={0} current_mode=ufp power_role=sink data_role=device "
      "contaminant_presence_status=4 }} }}\n    ]\n  }}\n}}\n",
      w.hands().cable(), serial_of(w.unit().seed));
}
}  // namespace hb::standin::text
