#include <gtest/gtest.h>

#include <string>

#include "harness/phone/phone.hpp"
#include "texts.hpp"

namespace hb::phone {
namespace {

TEST(InputDevices, TwoPanelsAndALid) {
  const auto r = parse_input_devices(texts::input_devices).value();
  ASSERT_EQ(r.touch.size(), 2u);
  EXPECT_EQ(r.touch[0].node, 3);
  EXPECT_EQ(r.touch[0].max_x, 1079);
  EXPECT_EQ(r.touch[0].max_y, 2639);
  EXPECT_EQ(r.touch[0].max_slot, 9);
  EXPECT_EQ(r.touch[1].node, 4);
  EXPECT_EQ(r.touch[1].max_y, 747);
  EXPECT_TRUE(r.has_lid_switch);
  EXPECT_EQ(r.lid_closed, true);
}

TEST(InputDevices, SideKeysByNodeAndNoOtherKey) {
  const std::string text =
      "add device 1: /dev/input/event7\n  events:\n    KEY (0001): KEY_A  KEY_B*  KEY_VOLUMEUP*\n"
      "                KEY_POWER  KEY_VOLUMEUP\n"
      "add device 2: /dev/input/event1\n  events:\n    KEY (0001): 0072* 0030*\n    SW  (0005): 0000*\n"
      "add device 3: /dev/input/event5\n  events:\n    KEY (0001): KEY_A*  KEY_ENTER\n"
      "    MSC (0004): KEY_POWER\n";
  const auto r = parse_input_devices(text).value();
  ASSERT_EQ(r.keys.size(), 2u);
  EXPECT_EQ(r.keys[0].node, 1);
  EXPECT_EQ(r.keys[0].keys, (std::vector<std::uint16_t>{114}));
  EXPECT_EQ(r.keys[0].down, (std::vector<std::uint16_t>{114}));
  EXPECT_TRUE(r.keys[0].lid);
  EXPECT_EQ(r.keys[1].node, 7);
  EXPECT_EQ(r.keys[1].keys, (std::vector<std::uint16_t>{115, 116}));
  EXPECT_EQ(r.keys[1].down, (std::vector<std::uint16_t>{115}));
  EXPECT_FALSE(r.keys[1].lid);
}

TEST(InputDevices, HexFormWithoutLabels) {
  const auto r = parse_input_devices(
                     "add device 1: /dev/input/event2\n  name:     \"t\"\n  events:\n"
                     "    KEY (0001): 014a \n"
                     "    ABS (0003): 002f  : value 0, min 0, max 9, fuzz 0, flat 0, resolution 0\n"
                     "                0035  : value 0, min 0, max 1079, fuzz 0, flat 0, resolution 0\n"
                     "                0036  : value 0, min 0, max 2339, fuzz 0, flat 0, resolution 0\n"
                     "    SW  (0005): 0000  0001*\n")
                     .value();
  ASSERT_EQ(r.touch.size(), 1u);
  EXPECT_EQ(r.touch[0].max_y, 2339);
  EXPECT_EQ(r.lid_closed, false);
}

TEST(InputDevices, OnlyTypeBPanelsCount) {
  const std::string head = "add device 1: /dev/input/event7\n  events:\n    ABS (0003): ";
  EXPECT_TRUE(parse_input_devices(head + "ABS_X : value 0, min 0, max 9\n").value().touch.empty());
  EXPECT_TRUE(parse_input_devices(head + "ABS_MT_POSITION_X : value 0, min 0, max 99\n"
                                         "  ABS_MT_POSITION_Y : value 0, min 0, max 99\n")
                  .value()
                  .touch.empty());
  for (const std::string max : {"-1", "0", "99999999999", "nan", ""}) {
    EXPECT_TRUE(parse_input_devices(head + "ABS_MT_SLOT : value 0, min 0, max 9\n  ABS_MT_POSITION_X : max " +
                                    max + "\n  ABS_MT_POSITION_Y : value 0, min 0, max 99\n")
                    .value()
                    .touch.empty())
        << max;
  }
}

TEST(InputDevices, NoListIsAnErrorNotAnEmptyPhone) {
  EXPECT_EQ(parse_input_devices("").error().code, ErrorCode::bad_format);
  EXPECT_EQ(parse_input_devices("could not open /dev/input/event0, Permission denied\n").error().code,
            ErrorCode::unsupported);
}

const std::vector<InputEvent>& expected() {
  static const std::vector<InputEvent> events{
      {5123.456789, 3, 0x2f, 0},     {5123.456789, 3, 0x39, 0x2d}, {5123.456789, 3, 0x35, 0x3a2},
      {5123.456789, 3, 0x36, 0x5f0}, {5123.456789, 1, 0x14a, 1},   {5123.456789, 0, 0, 0},
      {5123.956789, 3, 0x39, -1},    {5123.956789, 1, 0x14a, 0},   {5123.956789, 0, 3, 0}};
  return events;
}

TEST(InputEvents, LabelsAndHexSayTheSame) {
  for (const auto text : {texts::touch_labels, texts::touch_hex}) {
    InputEventParser p;
    std::vector<InputEvent> got;
    p.feed(text, got);
    EXPECT_EQ(got, expected());
    EXPECT_EQ(p.bad_lines(), 0u);
  }
}

TEST(InputEvents, AnyCutGivesTheSame) {
  for (std::size_t cut = 1; cut < 200; ++cut) {
    InputEventParser p;
    std::vector<InputEvent> got;
    for (std::size_t at = 0; at < texts::touch_labels.size(); at += cut)
      p.feed(texts::touch_labels.substr(at, cut), got);
    ASSERT_EQ(got, expected()) << cut;
    ASSERT_EQ(p.bad_lines(), 0u) << cut;
  }
}

TEST(InputEvents, ALineIsAnEventOrCountedBad) {
  struct Case {
    std::string line;
    std::uint64_t events, bad;
  };
  const std::string t = "[    5123.456789] ";
  const std::vector<Case> cases{
      {t + "EV_ABS       ABS_MT_TOOL_TYPE     MT_TOOL_PALM        ", 1, 0},
      {t + "EV_ABS       002b                 00000001            ", 1, 0},
      {t + "EV_MSC       MSC_TIMESTAMP        0000a3f1            ", 1, 0},
      {t + "EV_SW        SW_LID               00000001            ", 1, 0},
      {t + "EV_KEY       KEY_VOLUMEUP         DOWN                ", 1, 0},
      {t + "EV_KEY       KEY_A                DOWN                ", 0, 0},  // typed: dropped, not judged
      {t + "0001 001e 00000001", 0, 0},
      {"", 0, 0},
      {"\x1b[2J", 0, 1},
      {"\x1b" + t + "0003 0035 00000001", 0, 1},
      {t + "0003 0035 00000001\x1b[0m", 0, 1},
      {t + std::string("0003 0035 0000\0001", 16), 0, 1},
      {t + "0003 0035 000000001", 0, 1},
      {t + "0003 0035 0000000G", 0, 1},
      {t + "0003 0035", 0, 1},
      {t + "0003 0035 00000001 7", 0, 1},
      {t + "EV_ABS ABS_NOTHING 00000001", 0, 1},
      {t + "EV_NONE 0035 00000001", 0, 1},
      {"[ 9999999999999.456789] 0003 0035 00000001", 0, 1},
      {"[    5123.45678] 0003 0035 00000001", 0, 1},
      {"[        -1.456789] 0003 0035 00000001", 0, 1},
      {"[       nan.456789] 0003 0035 00000001", 0, 1},
      {"5123.456789 0003 0035 00000001", 0, 1},
      {"add device 1: /dev/input/event3", 0, 1},
      {"[", 0, 1},
  };
  for (const auto& c : cases) {
    InputEventParser p;
    std::vector<InputEvent> got;
    p.feed(c.line + "\r\n", got);
    EXPECT_EQ(got.size(), c.events) << c.line;
    EXPECT_EQ(p.bad_lines(), c.bad) << c.line;
  }
}

TEST(InputEvents, AnEndlessLineIsDroppedWholeCountedOnceAndNotKept) {
  InputEventParser p;
  std::vector<InputEvent> got;
  for (int i = 0; i < 1000; ++i) p.feed(texts::touch_hex.substr(0, 40), got);
  p.feed("\n", got);
  p.feed(texts::touch_hex, got);
  EXPECT_EQ(got, expected());
  EXPECT_EQ(p.bad_lines(), 1u);
}

TEST(InputEvents, TheLongestLineAllowed) {
  const std::string line = "[    5123.456789] 0003 0035 00000001";
  for (const std::size_t size : {511u, 512u, 513u}) {
    for (const std::string end : {"\n", "\r\n"}) {
      InputEventParser whole, cut;
      std::vector<InputEvent> a, b;
      const auto text = line + std::string(size - line.size(), ' ') + end;
      whole.feed(text, a);
      for (const char c : text) cut.feed({&c, 1}, b);
      EXPECT_EQ(a.size(), size <= 512 ? 1u : 0u) << size;
      EXPECT_EQ(a, b) << size;
      EXPECT_EQ(whole.bad_lines(), cut.bad_lines()) << size;
    }
  }
}
}  // namespace
}  // namespace hb::phone
