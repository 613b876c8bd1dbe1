#include <regex>

#include "phone_fixture.hpp"
#include "tools/standin/shell/canaries.hpp"
#include "tools/standin/shell/words.hpp"

namespace hb::standin {
namespace {

// Formats: AOSP sources named in tools/standin/shell/texts.hpp; each row is one line that must be there.
struct LineCase {
  const char* name;
  const char* model;
  const char* command;
  const char* line;
};
class PrintsLine : public testing::TestWithParam<LineCase> {};
TEST_P(PrintsLine, OfThePlatformsFormat) {
  TestPhone phone(GetParam().model);
  const auto p = phone.start(GetParam().command);
  EXPECT_EQ(p->code, 0);
  EXPECT_EQ(p->complaint, "");
  const std::regex line("(^|\n)" + std::string(GetParam().line) + "\n");
  EXPECT_TRUE(std::regex_search(p->text, line)) << p->text;
}
INSTANTIATE_TEST_SUITE_P(
    All, PrintsLine,
    testing::Values(
        LineCase{"uptime", "petal", "cat /proc/uptime", R"(\d+\.\d\d \d+\.\d\d)"},
        LineCase{"battery_head", "petal", "cat /proc/uptime; dumpsys battery",
                 "Current Battery Service state:"},
        LineCase{"battery_usb", "petal", "dumpsys battery", "  USB powered: true"},
        LineCase{"battery_counter", "plank", "dumpsys battery", R"(  Charge counter: \d{7})"},
        LineCase{"battery_level", "petal", "dumpsys battery", R"(  level: (5|6|7)\d)"},
        LineCase{"battery_voltage", "petal", "dumpsys battery", R"(  voltage: [34]\d{3})"},
        LineCase{"battery_temperature", "petal", "dumpsys battery", R"(  temperature: [23]\d\d)"},
        LineCase{"battery_get", "petal", "cmd battery get level", R"(\d\d)"},
        LineCase{
            "sensor_list", "petal", "dumpsys sensorservice",
            R"(0x0000001b\) .{25,} \| Velmora +\| ver: 1 \| type: android.sensor.hinge_angle\(36\) \| perm: n/a \| flags: 0x00000002)"},
        LineCase{"sensor_events", "petal", "dumpsys sensorservice",
                 R"(\t 1 \(ts=\d+\.\d{9}, wall=\d\d:\d\d:\d\d\.\d{3}\) 1[78]\d\.\d\d, )"},
        LineCase{"device_state", "petal", "dumpsys device_state",
                 R"(  mCommittedState=Optional\[DeviceState\{identifier=2, name='OPENED', .*\}\])"},
        LineCase{"slab_state", "plank", "cmd device_state print-state", "0"},
        LineCase{"fold_state", "petal", "cmd device_state print-state", "2"},
        LineCase{"thermal", "petal", "dumpsys thermalservice",
                 R"(\tTemperature\{mValue=[23]\d\.\d, mType=3, mName=skin, mStatus=0\})"},
        LineCase{"fingerprint", "plank", "dumpsys biometric",
                 R"( ID\(0\), oemStrength: 15, updatedStrength: 15, modality 2, state: 0, cookie: 0)"},
        LineCase{"sim_and_esim", "petal", "getprop gsm.sim.state", "LOADED,NOT_READY"},
        LineCase{"sim", "plank", "getprop gsm.sim.state", "LOADED"},
        LineCase{"nfc", "petal", "dumpsys nfc", "mState=on"},
        LineCase{
            "mobile", "petal", "dumpsys telephony.registry",
            R"(    mSignalStrength=SignalStrength:\{mCdma=.*,mLte=CellSignalStrengthLte: rssi=-\d+ rsrp=-[89]\d rsrq=.*,mNr=CellSignalStrengthNr:\{ .* ssRsrp = 2147483647 .*\},primary=CellSignalStrengthLte\})"},
        LineCase{"cameras_petal", "petal", "dumpsys media.camera", "Number of camera devices: 3"},
        LineCase{"cameras_plank", "plank", "dumpsys media.camera", "Number of camera devices: 2"},
        LineCase{"camera_front", "plank", "dumpsys media.camera", "    Facing: Front"},
        LineCase{"size_petal", "petal", "wm size", "Physical size: 1080x2640"},
        LineCase{"size_plank", "plank", "wm size", "Physical size: 1080x2340"},
        LineCase{
            "touch_axis", "petal", "getevent -lp",
            "                ABS_MT_POSITION_Y     : value 0, min 0, max 2639, fuzz 0, flat 0, resolution 0"},
        LineCase{"lid", "petal", "getevent -lp", R"(    SW  \(0005\): SW_LID +)"},
        LineCase{"property", "petal", "getprop ro.product.model", "VM-P2"},
        LineCase{"properties", "petal", "getprop", R"(\[ro.serialno\]: \[[A-Z0-9]{16}\])"},
        LineCase{"load", "petal",
                 "for i in 1 2 3 4; do timeout 20 sh -c 'while :; do :; done' & done; echo started",
                 "started"},
        LineCase{
            "load_quiet", "petal",
            "for i in 1 2; do timeout 20 sh -c 'while :; do :; done' >/dev/null 2>&1 & done; echo started",
            "started"},
        LineCase{"unload", "petal", "pkill -f 'while :; do :; done'; echo stopped", "stopped"},
        LineCase{"stay_on", "petal", "svc power stayon usb; settings get global stay_on_while_plugged_in",
                 "2"}),
    [](const auto& i) { return i.param.name; });

struct ExitCase {
  const char* name;
  std::string command;
  int code;
  const char* out;
  const char* complaint;
};
class EndsWith : public testing::TestWithParam<ExitCase> {};
TEST_P(EndsWith, StatusAndText) {
  TestPhone phone;
  const auto p = phone.start(GetParam().command);
  EXPECT_EQ(p->code, GetParam().code);
  EXPECT_EQ(p->text, GetParam().out);
  EXPECT_EQ(p->complaint, GetParam().complaint);
}
INSTANTIATE_TEST_SUITE_P(
    All, EndsWith,
    testing::Values(
        ExitCase{"nothing", "", 0, "", ""}, ExitCase{"echo", "echo 'a  b' \"c;d\"", 0, "a  b c;d\n", ""},
        ExitCase{"false", "false", 1, "", ""}, ExitCase{"exit", "exit 300; echo no", 44, "", ""},
        ExitCase{"and", "false && echo a; true && echo b", 0, "b\n", ""},
        ExitCase{"or", "false || echo a || echo b", 0, "a\n", ""},
        ExitCase{"pipe", "echo 'a 1 b 22' | grep -o -E '[0-9]+'", 0, "1\n22\n", ""},
        ExitCase{"count", "cmd wifi status | grep -c 'Wifi is'", 0, "2\n", ""},
        ExitCase{"first_line_only", "dumpsys bluetooth_manager | grep -m 1 -o -E '^ *state: [A-Z_]+'", 0,
                 "  state: ON\n", ""},
        ExitCase{"nothing_fits", "echo a | grep b", 1, "", ""},
        ExitCase{"skipped_pipe", "false && echo a | grep a; echo b", 0, "b\n", ""},
        ExitCase{"bad_pattern", "echo a | grep -E '['", 2, "", "grep: bad pattern or option\n"},
        ExitCase{"unknown", "frobnicate -x", 127, "", "sh: frobnicate: inaccessible or not found\n"},
        ExitCase{"hidden", "frobnicate 2>/dev/null", 127, "", ""},
        ExitCase{"no_supply", cell_command("bms"), 3, "", ""},
        ExitCase{"no_file", "cat /etc/x", 1, "", "cat: /etc/x: No such file or directory\n"},
        ExitCase{"open_quote", "echo 'a", 1, "", "sh: syntax error: unexpected end\n"},
        ExitCase{"open_loop", "for i in 1 2; do echo a", 1, "", "sh: syntax error: unexpected end\n"},
        ExitCase{"wake", "input keyevent 224", 0, "", ""},
        ExitCase{"no_property", "getprop ro.nothing", 0, "\n", ""}),
    [](const auto& i) { return i.param.name; });

TEST(Shell, ACellReadGivesTheRawUptimeLineThenEveryAttribute) {
  TestPhone phone;
  const std::regex all(
      "\\d+\\.\\d\\d "
      "\\d+\\.\\d\\d\npresent=1\nvoltage_now=[34]\\d{6}\ncurrent_now=-?\\d+000\ntemp=[23]\\d\\d\n"
      "charge_counter=\\d+000\ncharge_full=\\d+000\ncharge_full_design=1390000\ncycle_count=\\d+\n"
      "capacity=\\d\\d\nstatus=(Charging|Discharging|Not charging)\n");
  const auto text = phone.say(cell_command("battery-sub"));
  EXPECT_TRUE(std::regex_match(text, all)) << text;
}

TEST(Shell, ALoadDrawsItsPowerAndEndsByItself) {
  TestPhone phone("plank");
  phone.world.hands().set_cable(false);
  phone.wait(2000);
  const auto power = [&] { return -phone.world.pack().voltage_v() * phone.world.pack().current_a(); };
  EXPECT_NEAR(power(), 0.28 * 3.9, 1e-9);
  phone.say("for i in 1 2 3 4; do timeout 5 sh -c 'while :; do :; done' & done; echo started");
  phone.wait(4900);
  EXPECT_NEAR(power(), 0.28 * 3.9 + 3.5, 1e-9);
  phone.wait(200);
  EXPECT_NEAR(power(), 0.28 * 3.9, 1e-9);
}

TEST(Shell, APageIsOpenedOnTheLoopbackOnlyAndOnlyWithABrowser) {
  TestPhone phone;
  std::string opened;
  const std::string command = "am start -a android.intent.action.VIEW -d 'http://h1.localhost:46080/ab12/'";
  EXPECT_NE(phone.start(command)->complaint.find("Error:"), std::string::npos);
  phone.shell.on_open_url = [&](std::string url) { opened = std::move(url); };
  EXPECT_EQ(phone.say(command),
            "Starting: Intent { act=android.intent.action.VIEW dat=http://h1.localhost:46080/... }\n");
  EXPECT_EQ(opened, "http://h1.localhost:46080/ab12/");
  EXPECT_NE(phone.start("am start -d http://192.0.2.1/x")->complaint.find("Error:"), std::string::npos);
}

TEST(Shell, EventsComeAtOnceOnATerminalAndInBlocksThroughAPipe) {
  TestPhone phone;
  const auto tty = phone.start("getevent -lt /dev/input/event3", true);
  const auto pipe = phone.start("getevent -t /dev/input/event3", false);
  phone.deed("sweep_panel", "inner");
  phone.wait(215);
  EXPECT_FALSE(tty->text.empty());
  EXPECT_TRUE(pipe->text.empty());
  phone.wait(1000);
  EXPECT_EQ(pipe->text.size() % 4096, 0u);
  EXPECT_FALSE(pipe->text.empty());
  EXPECT_EQ(tty->code, -1);
  // AOSP toolbox getevent.c
  const std::regex labelled(R"((\[ {0,7}\d+\.\d{6}\] EV_(ABS|KEY|SYN) {6,} [A-Z_]+ +[0-9a-zA-Z]+ +\n)+)");
  EXPECT_TRUE(std::regex_match(tty->text.substr(0, tty->text.find('\n', 2000) + 1), labelled));
  const std::size_t said = tty->text.size();
  tty->closed = true;
  phone.wait(500);
  EXPECT_EQ(tty->text.size(), said);
}

TEST(Shell, TheScreenInUseFollowsTheFold) {
  TestPhone phone;
  phone.deed("fold");
  phone.finish();
  phone.wait(100);
  EXPECT_EQ(phone.say("wm size"), "Physical size: 720x748\n");
  EXPECT_EQ(phone.say("cmd device_state print-state"), "0\n");
  EXPECT_NE(phone.say("getevent -lp").find("SW_LID*"), std::string::npos);
}

TEST(Canaries, AreShownWhereAPhoneWouldShowThemAndNowhereElse) {
  TestPhone phone;
  std::string personal, clean;
  for (const char* c : {"getprop", "dumpsys notification", "dumpsys wifi", "dumpsys account", "dumpsys usb",
                        "dumpsys input", "dumpsys sensorservice", "dumpsys media.camera", "cmd wifi status"})
    personal += phone.say(c);
  for (const char* c : {"dumpsys battery", "dumpsys thermalservice", "dumpsys device_state", "wm size",
                        "cat /proc/uptime", "cmd device_state print-states"})
    clean += phone.say(c);
  for (const auto& c : kCanaries) {
    EXPECT_NE(personal.find(c.text), std::string::npos) << c.name;
    EXPECT_EQ(clean.find(c.text), std::string::npos) << c.name;
  }
  EXPECT_EQ(serial_of(1), canary("serial"));
  EXPECT_EQ(serial_of(2).size(), 16u);
  EXPECT_NE(serial_of(2), serial_of(3));
}

TEST(Canaries, AreCutOffOnThePhoneByTheFiltersOfTheRadios) {
  TestPhone p;
  for (
      const char* command :
      {"settings get global wifi_on; cmd wifi status | grep -o -E 'Wifi is (enabled|disabled)|RSSI: -[0-9]+'",
       "settings get global bluetooth_on; dumpsys bluetooth_manager | grep -m 1 -o -E '^ *state: [A-Z_]+'"}) {
    const auto text = p.say(command);
    EXPECT_TRUE(std::regex_match(text, std::regex("1\n(Wifi is enabled\nRSSI: -[45]\\d|  state: ON)\n")))
        << text;
    for (const auto& c : kCanaries) EXPECT_EQ(text.find(c.text), std::string::npos) << c.name;
  }
}

TEST(Canaries, AreCutOffOnThePhoneByTheFiltersOfMobileAndNfc) {
  TestPhone p;
  const std::string mobile =
      "dumpsys telephony.registry | grep -E '^ *mSignalStrength=' | "
      "grep -o -E ' rsrp=-?[0-9]+| ssRsrp = -?[0-9]+'";
  // One slot with a card, one without; the neighbour's cell, which stands in another line, is cut off.
  const std::regex all(" rsrp=-[89]\\d\n ssRsrp = 2147483647\n rsrp=2147483647\n ssRsrp = 2147483647\n");
  EXPECT_TRUE(std::regex_match(p.say(mobile), all)) << p.say(mobile);
  EXPECT_EQ(p.say("dumpsys nfc | grep -m 1 -o -E '^mState=(on|off|turning on|turning off)'"), "mState=on\n");
}

TEST(Biometric, OnlyTheKindsOfItsSensorsLeaveThePhone) {
  const std::string command =
      "dumpsys biometric | grep -E '^Sensors:|^ *ID\\(' | grep -o -E '^Sensors:|modality [0-9]+'";
  EXPECT_EQ(TestPhone().say(command), "Sensors:\nmodality 2\nmodality 8\n");
  TestPhone open("petal", 1, {"fingerprint-flex-open"});
  EXPECT_EQ(open.say(command), "Sensors:\nmodality 8\n");
  // A session under way names sensors, too: it is cut off as a whole line.
  EXPECT_EQ(open.say("echo 'CurrentSession: State: 2, Ineligible:{ID(0), oemStrength: 15, modality 2:7 }' | "
                     "grep -E '^Sensors:|^ *ID\\(' | grep -o -E '^Sensors:|modality [0-9]+'"),
            "");
}

TEST(Words, AnyPrefixAndAnyOneChangedCharacterOfACommandIsTakenApartOrRefused) {
  const std::string good = cell_command("battery") + " && a || b & c";
  for (std::size_t i = 0; i <= good.size(); ++i) static_cast<void>(steps_of(good.substr(0, i)));
  for (std::size_t i = 0; i < good.size(); ++i)
    for (const char c : {'\0', '\'', '"', ';', '&', '|', '\n', ' ', '\xff'}) {
      std::string bad = good;
      bad[i] = c;
      static_cast<void>(steps_of(bad));
    }
  EXPECT_TRUE(steps_of(good).ok);
}

// ------------------------------------------------------------------------------------------- conditions

struct ConditionCase {
  const char* name;
  const char* fault;
  std::string command;
  const char* must_match;
};
class Condition : public testing::TestWithParam<ConditionCase> {};
TEST_P(Condition, IsSaid) {
  TestPhone phone("petal", 1, {GetParam().fault});
  phone.wait(1000);
  const auto text = phone.say(GetParam().command);
  EXPECT_TRUE(std::regex_search(text, std::regex(GetParam().must_match))) << text;
}
INSTANTIATE_TEST_SUITE_P(
    All, Condition,
    testing::Values(
        ConditionCase{"full", "battery-full", "dumpsys battery", "status: 5\n[^]*level: 100\n"},
        ConditionCase{"hot", "phone-hot", "dumpsys thermalservice", "HAL:\n[^]*mValue=47\\.\\d, mType=3"},
        ConditionCase{"frozen", "battery-frozen", "dumpsys battery", "state:\n  \\(UPDATES STOPPED"},
        ConditionCase{"forced", "fold-forced", "dumpsys device_state", "mOverrideState=Optional\\["},
        ConditionCase{"no_sim", "sim-left-out", "getprop gsm.sim.state", "^ABSENT,NOT_READY\n$"},
        ConditionCase{"denied", "sysfs-denied", cell_command("battery-main") + " || echo x", "^$"},
        ConditionCase{"silent", "sensor-silent", "dumpsys sensorservice",
                      "last 10 events\n(\t.*\n){10}VLM L2"}),
    [](const auto& i) { return i.param.name; });

TEST(Condition, FrozenValuesDoNotMoveAndDeniedGaugesGiveExitThree) {
  TestPhone frozen("petal", 1, {"battery-frozen"});
  const auto before = frozen.say("dumpsys battery");
  frozen.deed("place_on_pad");
  frozen.wait(30000);
  EXPECT_EQ(frozen.say("dumpsys battery"), before);
  TestPhone denied("petal", 1, {"sysfs-denied"});
  EXPECT_EQ(denied.start(cell_command("battery-main"))->code, 3);
  EXPECT_EQ(denied.start("cat /sys/class/power_supply/battery-main/capacity")->complaint,
            "cat: /sys/class/power_supply/battery-main/capacity: Permission denied\n");
}
}  // namespace
}  // namespace hb::standin
