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

TEST(Nfc, ItsStateAndNothingElse) {
  EXPECT_EQ(parse_nfc(texts::nfc)->up, true);
  for (const char* off :
       {"mState=off\n", "mState=turning on\r\n", "mState=turning off\n", "mState=off\nmState=on\n"})
    EXPECT_EQ(parse_nfc(off)->up, false) << off;
  EXPECT_EQ(parse_nfc("Can't find service: nfc\n").error().code, ErrorCode::unsupported);
  for (const char* text : {"", "mState=\n", "mState=<error>\n", "mAlwaysOnState=on\n"})
    EXPECT_EQ(parse_nfc(text).error().code, ErrorCode::bad_format) << text;
}

// The words of IccCardConstants.State.
TEST(Sim, SlotsAreCountedByTheirClosedWords) {
  struct Row {
    std::string_view text;
    int told, read, loaded;
  };
  for (const auto& r : std::vector<Row>{{texts::sim, 1, 1, 1},
                                        {"LOADED\r\n", 1, 1, 1},
                                        {"ABSENT,LOADED\n", 2, 1, 1},
                                        {"ABSENT,ABSENT\n", 2, 0, 0},
                                        {"PIN_REQUIRED\n", 1, 1, 0},
                                        {"PUK_REQUIRED, READY\n", 2, 2, 0},
                                        {"CARD_IO_ERROR,NOT_READY\n", 1, 0, 0},
                                        {"NOT_READY,UNKNOWN\n", 0, 0, 0},  // the radio is off, say
                                        {",LOADED\n", 1, 1, 1},
                                        {"LOADED,Mina\n", 1, 1, 1},
                                        {"ABSENT\nLOADED\n", 1, 0, 0}}) {
    const auto s = parse_sim(r.text);
    ASSERT_TRUE(s) << r.text;
    EXPECT_EQ(show(*s), show(SimReading{r.told, r.read, r.loaded})) << r.text;
  }
  for (const char* text : {"", "\n", "loaded\n", "LOADEDX\n"})
    EXPECT_EQ(parse_sim(text).error().code, ErrorCode::bad_format) << text;
}

TEST(Mobile, TheFirstSlotThatTellsALevelCounts) {
  struct Row {
    std::string_view text;
    std::optional<int> lte_dbm, nr_dbm;
  };
  for (const auto& r : std::vector<Row>{{texts::mobile, -101, {}},
                                        {" rsrp=-101\r\n ssRsrp = -88\r\n", -101, -88},
                                        {" rsrp=2147483647\n rsrp=-97\n rsrp=-60\n", -97, {}},
                                        {" ssRsrp = 2147483647\n", {}, {}},
                                        {" rsrp=-30\n rsrp=0\n rsrp=-157\n rsrp=x\n", {}, {}}}) {
    const auto m = parse_mobile(r.text);
    ASSERT_TRUE(m) << r.text;
    EXPECT_EQ(m->lte_dbm, r.lte_dbm) << r.text;
    EXPECT_EQ(m->nr_dbm, r.nr_dbm) << r.text;
  }
  EXPECT_EQ(parse_mobile("").error().code, ErrorCode::bad_format);
  EXPECT_EQ(parse_mobile("Can't find service: telephony.registry\n").error().code, ErrorCode::unsupported);
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
