// The charging port, the link speed, and the radios: numbers and closed words, nothing else.
#include <gtest/gtest.h>

#include "show.hpp"
#include "texts.hpp"

namespace hb::phone {
namespace {

TEST(Supply, EveryKeyInItsUnit) {
  const auto r = parse_supply(texts::supply).value();
  EXPECT_EQ(r.uptime_s, 5123.45);
  EXPECT_EQ(r.online, true);
  EXPECT_EQ(r.voltage_mv, 4738);
  EXPECT_EQ(r.current_ma, 2981);
  EXPECT_EQ(r.current_max_ma, 3000);
}

TEST(Supply, WhatIsNotReadableIsNotReported) {
  const auto r = parse_supply("12.00 3.00\nonline=\nvoltage_now=\ncurrent_now=x\ncurrent_max=-\n").value();
  EXPECT_FALSE(r.online || r.voltage_mv || r.current_ma || r.current_max_ma);
  EXPECT_EQ(parse_supply("online=2\n").value().online, true);  // 2: online programmable (kernel ABI)
  EXPECT_FALSE(parse_supply("online=7\nonline=1\n").value().online) << "the first of equal keys counts";
  EXPECT_EQ(parse_supply("hello\n").error().code, ErrorCode::bad_format);
}

TEST(LinkSpeed, TheKernelsWordsOnly) {
  EXPECT_EQ(parse_link_speed("super-speed\n").value(), 5000);
  EXPECT_EQ(parse_link_speed("high-speed\r\n").value(), 480);
  EXPECT_EQ(parse_link_speed("UNKNOWN").value(), 0);
  EXPECT_EQ(parse_link_speed("warp-speed\n").error().code, ErrorCode::bad_format);
  EXPECT_EQ(parse_link_speed("cat: x: Permission denied\n").error().code, ErrorCode::unsupported);
}

struct RadioRow {
  std::string_view text;
  std::optional<bool> switched_on, up;
  std::optional<int> dbm;
};

TEST(Wifi, SwitchStateAndLevel) {
  for (const auto& r : std::vector<RadioRow>{
           {texts::wifi, true, true, -52},
           {"1\r\nWifi is enabled\r\nRSSI: -71\r\n", true, true, -71},
           {"0\nWifi is disabled\n", false, false, {}},
           {"3\nWifi is disabled\n", false, false, {}},                     // off by airplane mode
           {"2\nWifi is enabled\n", true, true, {}},                        // on in airplane mode, no network
           {"1\nWifi is disabled\nRSSI: -40\n", true, false, {}},           // a level of a radio that is down
           {"1\nWifi is enabled\nRSSI: -1\nRSSI: -80\n", true, true, -80},  // a network called so
           {"1\nWifi is enabled\nRSSI: -127\n", true, true, {}},            // the platform's "no level"
           {"null\nWifi is enabled\n", {}, true, {}},
           {"1\n", true, {}, {}}}) {
    const auto w = parse_wifi(r.text);
    ASSERT_TRUE(w) << r.text;
    EXPECT_EQ(w->switched_on, r.switched_on) << r.text;
    EXPECT_EQ(w->up, r.up) << r.text;
    EXPECT_EQ(w->level_dbm, r.dbm) << r.text;
  }
  EXPECT_EQ(parse_wifi("cmd: Can't find service: wifi\n").error().code, ErrorCode::unsupported);
}

TEST(Bluetooth, TheFirstStateCounts) {
  for (const auto& r : std::vector<RadioRow>{{texts::bluetooth, true, true, {}},
                                             {"0\n  state: OFF\n", false, false, {}},
                                             {"1\n  state: TURNING_ON\n", true, false, {}},
                                             {"1\n  state: OFF\n  state: ON\n", true, false, {}},
                                             {"1\n  state: SOMETHING\n", true, {}, {}}}) {
    const auto b = parse_bluetooth(r.text);
    ASSERT_TRUE(b) << r.text;
    EXPECT_EQ(b->switched_on, r.switched_on) << r.text;
    EXPECT_EQ(b->up, r.up) << r.text;
  }
}

TEST(Radios, AnUnfilteredDumpLeavesNumbersAndStatesOnly) {
  // As a phone would print it whose grep does not cut: names and addresses are in every line.
  const std::string_view dump =
      "1\nWifi is enabled\nWifi is connected to \"Aunt Mina's net\"\n"
      "WifiInfo: SSID: \"Aunt Mina's net\", BSSID: 02:00:5e:00:53:01, RSSI: -52, Link speed: 866Mbps\n"
      "  state: ON\n  address: 02:00:5E:00:53:02\n  name: Mina's phone\n";
  for (const auto& shown : {show(parse_wifi(dump)), show(parse_bluetooth(dump))}) {
    for (const char* word : {"Mina", "53:0", "net", "866", "phone"})
      EXPECT_EQ(shown.find(word), std::string::npos) << shown;
  }
  EXPECT_EQ(show(parse_wifi(dump)), "1 1 - ");
}
}  // namespace
}  // namespace hb::phone
