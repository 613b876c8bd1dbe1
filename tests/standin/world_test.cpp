#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <regex>
#include <set>

#include "phone_fixture.hpp"
#include "tools/standin/hands/eyes.hpp"

namespace hb::standin {
namespace {

// All that a bench would ask, in a fixed order; the answers by the check that reads them.
struct Answers {
  std::map<std::string, std::string> by_check;
};

std::string cells(TestPhone& p) {
  std::string out;
  for (const auto& c : p.world.unit().model->cells) out += p.say(cell_command(c.supply));
  return out;
}

void touch_part(TestPhone& p, Answers& a) {
  for (const auto& panel : p.world.unit().model->panels) {
    const auto events = p.start("getevent -lt /dev/input/event" + std::to_string(panel.node), true);
    p.deed("leave_alone", "", 4);
    p.finish();
    p.deed("sweep_panel", panel.part);
    p.finish();
    events->closed = true;
    a.by_check["touch_grid"] += events->text;
  }
}

void hinge_part(TestPhone& p, Answers& a) {
  if (p.world.hinge() == nullptr) return;
  const auto hinge_block = [](const std::string& s) {
    const auto at = s.find("Velmora Hinge [Hall|angle]: last");
    return at == std::string::npos ? std::string() : s.substr(at, s.find("VLM L2", at) - at);
  };
  const auto look = [&] {
    a.by_check["hinge_sweep"] += hinge_block(p.say("dumpsys sensorservice")) + p.say("dumpsys device_state");
  };
  p.deed("fold_cycles", "", 2);
  while (p.world.hands().busy()) p.wait(80), look();
  for (const double stop : {0.0, 90.0, 180.0, 90.0}) {
    p.deed("hold_at_stop", "", stop);
    while (p.world.hands().busy()) p.wait(80), look();
  }
  p.deed("unfold");
  p.finish();
}

void battery_part(TestPhone& p, Answers& a) {
  auto& out = a.by_check["batteries"];
  for (int i = 0; i < 5; ++i) p.wait(1000), out += cells(p);
  p.say("for i in 1 2 3 4; do timeout 20 sh -c 'while :; do :; done' & done; echo started");
  for (int i = 0; i < 8; ++i) p.wait(1000), out += cells(p);
  p.say("pkill -f 'while :; do :; done'; echo stopped");
  out += p.say("dumpsys battery");
}

void wireless_part(TestPhone& p, Answers& a) {
  auto& out = a.by_check["wireless_charging"];
  const auto watch = [&](int n) {
    for (int i = 0; i < n; ++i) p.wait(500), out += p.say("cat /proc/uptime; dumpsys battery");
  };
  p.deed("place_on_pad");
  watch(60);
  p.deed("shift_on_pad", "", 4);
  watch(20);
  p.deed("lift_from_pad");
  p.finish();
}

void port_part(TestPhone& p, Answers& a) {
  auto& out = a.by_check["wired_port"];
  for (const int side : {1, 2}) {
    p.deed("plug_in", "", side);
    for (int i = 0; i < 20; ++i) p.wait(200), out += p.say(supply_command("usb"));
    out += p.say("cat /sys/class/udc/velm8-usb.0/current_speed");
    p.deed("wiggle_plug", "", 5);
    for (int i = 0; i < 25; ++i) p.wait(200), out += p.say(supply_command("usb"));
  }
  p.deed("unplug");
  p.finish();
}

void keys_part(TestPhone& p, Answers& a) {
  auto& out = a.by_check["keys"];
  const auto events = p.start("getevent -lt /dev/input/event0", true);
  const auto held = [&] {
    const auto list = p.say("getevent -lp");
    const auto at = list.find("KEY_VOLUMEDOWN");
    return list.substr(at, list.find('\n', at) - at);
  };
  out += held();
  for (const auto& k : p.world.unit().model->keys) {
    p.deed("press_keys", k.part, 3);
    p.finish();
  }
  out += events->text + held();
  events->closed = true;
}

/// What is marked on every field of every panel, and what is too even to be marked.
void look_part(TestPhone& p, Answers& a) {
  auto& out = a.by_check["panel"];
  const Unit& u = p.world.unit();
  for (std::size_t i = 0; i < u.looks.size(); ++i) {
    out += std::to_string(u.looks[i].unevenness);
    for (const char* field : {"white", "black", "red", "green", "blue", "ramp", "grey", "crease"})
      for (const auto& m : mark_field(u, i, field))
        out += field + std::to_string(static_cast<int>(m.kind)) + std::to_string(m.x) + std::to_string(m.y);
  }
}

void motion_part(TestPhone& p, Answers& a) {
  auto& out = a.by_check["motion"];
  for (int face = 1; face <= 6; ++face) {
    p.deed("lay_on_face", "", face);
    p.finish();
    p.wait(400);
    const auto s = p.say("dumpsys sensorservice");
    const auto at = s.find("VLM A3 Accelerometer: last"), end = s.find("Velmora Hinge [Hall|angle]: last");
    out += s.substr(at, std::min(end, s.find("VLM L2 Ambient Light: last")) - at);
  }
}

Answers ask_everything(std::string_view model, std::uint64_t seed, const std::vector<std::string>& faults) {
  TestPhone p(model, seed, faults);
  Answers a;
  touch_part(p, a);
  hinge_part(p, a);
  battery_part(p, a);
  wireless_part(p, a);
  a.by_check["cameras"] = p.say("dumpsys media.camera");
  for (const auto& l : p.world.unit().lenses) {
    a.by_check["cameras"] += std::to_string(l.focus.at(5)) + std::to_string(l.lamp.shines);
    a.by_check["cameras"] += std::to_string(l.blur_px) + std::to_string(l.tilt_px) + std::to_string(l.haze);
    for (const auto& s : l.stuck)
      a.by_check["cameras"] += std::to_string(s.x) + std::to_string(s.y) + std::to_string(s.bright);
  }
  port_part(p, a);
  for (int i = 0; i < 5; ++i) {
    p.wait(400);
    a.by_check["radios"] += p.say("cmd wifi status") + p.say("dumpsys bluetooth_manager") +
                            p.say("dumpsys telephony.registry") + p.say("getprop gsm.sim.state") +
                            p.say("dumpsys nfc");
  }
  for (const auto& s : p.world.unit().model->screws)
    a.by_check["housing"] += std::to_string(look(p.world.unit(), "screws", s.part).value());
  for (const auto& c : p.world.unit().housing.covers) a.by_check["housing"] += std::to_string(c.gap_mm);
  for (const auto& c : p.world.unit().model->covers)
    for (const char* sight : {"widest_gap", "seated", "colour_agreed", "new_adhesive"})
      a.by_check["housing"] += std::to_string(look(p.world.unit(), sight, c).value());
  for (const char* deed : {"leave_alone", "cover_top"}) {
    p.deed(deed);
    p.wait(2500);
    const auto s = p.say("dumpsys sensorservice");
    const auto at = s.find("VLM L2 Ambient Light: last");
    a.by_check["presence"] += s.substr(at, s.find("Active sensors:") - at) + p.say("dumpsys biometric") +
                              (s.find("android.sensor.proximity") == std::string::npos ? "" : "proximity");
  }
  for (int output = 0; output < 2; ++output)
    for (int microphone = 0; microphone < 2; ++microphone) {
      const Playing sweep{output, microphone};
      for (const auto v : record(p.world.unit().sound, sweep, 7))
        a.by_check["sound"] += std::to_string(v) + ' ';
    }
  p.say("cmd vibrator_manager synced -f -B oneshot 900 255");
  p.wait(500);
  const auto& felt =
      p.world.motion().accelerometer();  // from one event to the next, so that no offset counts
  for (std::size_t i = 1; i < felt.size(); ++i)
    for (const std::size_t axis : {0, 2})
      a.by_check["vibration"] +=
          std::to_string(std::lround(1e4 * (felt[i].value[axis] - felt[i - 1].value[axis])));
  p.wait(1000);
  keys_part(p, a);
  motion_part(p, a);
  look_part(p, a);
  return a;
}
const Answers& healthy(const std::string& model) {
  static std::map<std::string, Answers> kept;
  if (!kept.contains(model)) kept[model] = ask_everything(model, 1, {});
  return kept[model];
}

TEST(World, SameSeedAndRequestsGiveTheSameBytesAnotherSeedOthers) {
  EXPECT_TRUE(ask_everything("petal", 1, {}).by_check == healthy("petal").by_check);
  const auto other = ask_everything("petal", 2, {});
  for (const auto& [check, text] : healthy("petal").by_check)
    EXPECT_NE(other.by_check.at(check), text) << check;
}

TEST(World, ManySmallAdvancesEqualOneLarge) {
  TestPhone small, large;
  for (auto* p : {&small, &large}) p->deed("fold_cycles", "", 1);
  for (int i = 0; i < 700; ++i) small.world.advance(std::chrono::milliseconds(7));
  large.world.advance(std::chrono::milliseconds(4900));
  EXPECT_EQ(small.say("dumpsys sensorservice"), large.say("dumpsys sensorservice"));
  EXPECT_EQ(cells(small), cells(large));
}

// ------------------------------------------------------------------------------------------- faults

class FaultShows : public testing::TestWithParam<std::pair<std::string, std::string>> {};
TEST_P(FaultShows, WhereItsCheckLooksAndNowhereElse) {
  const auto& [model, fault] = GetParam();
  const auto info = std::find_if(fault_list().begin(), fault_list().end(),
                                 [f = fault](const auto& i) { return i.name == f; });
  const auto sick = ask_everything(model, 1, {fault});
  for (const auto& [check, text] : healthy(model).by_check) {
    const bool same = std::hash<std::string>{}(sick.by_check.at(check)) == std::hash<std::string>{}(text);
    const bool same_cells =
        check == "wireless_charging" && info->check == "batteries";  // the pad charges them
    EXPECT_TRUE(same_cells || same == (check != info->check)) << check;
  }
}
std::vector<std::pair<std::string, std::string>> all_faults() {
  std::vector<std::pair<std::string, std::string>> out;
  for (const auto& f : fault_list())
    for (const char* model : {"petal", "plank"})
      if (!f.condition() && f.applies_to(model)) out.emplace_back(model, f.name);
  return out;
}
INSTANTIATE_TEST_SUITE_P(All, FaultShows, testing::ValuesIn(all_faults()), [](const auto& i) {
  std::string name = i.param.first + "_" + i.param.second;
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
});

// ------------------------------------------------------------------------------------------- deeds

/// Positions that a panel reported, decoded from its raw events: enough for one finger at a time.
struct Reached {
  std::set<std::pair<int, int>> cells;  // 5 mm
  int contacts = 0, most_at_once = 0;
};
Reached sweep(std::string_view model, const std::vector<std::string>& faults) {
  TestPhone p(model, 1, faults);
  const PanelSpec& spec = p.world.unit().panels[0].spec;
  Reached r;
  int x = -1, y = -1, down = 0;
  p.world.listen(spec.node, [&](std::span<const RawEvent> events) {
    for (const auto& e : events) {
      if (e.code == 0x35) x = e.value;
      if (e.code == 0x36) y = e.value;
      if (e.code == 0x39) down += e.value >= 0 ? 1 : -1, r.contacts += e.value >= 0 ? 1 : 0;
    }
    r.most_at_once = std::max(r.most_at_once, down);
    if (down > 0)
      r.cells.insert({static_cast<int>(x * spec.width_mm / spec.width_px / 5),
                      static_cast<int>(y * spec.height_mm / spec.height_px / 5)});
    return true;
  });
  p.deed("sweep_panel", "inner");
  p.finish();
  return r;
}

TEST(Sweep, AHealthyPanelIsReachedInEveryCellWithOneContactAStroke) {
  const auto petal = sweep("petal", {});
  EXPECT_EQ(petal.cells.size(), 14u * 35u);  // 70.0 x 171.1 mm
  EXPECT_EQ(petal.contacts, 44 + 4 + 2);     // rows 4 mm apart, guided strokes, two fingers
  EXPECT_EQ(petal.most_at_once, 2);
  EXPECT_EQ(sweep("plank", {}).cells.size(), 14u * 30u);  // 68.0 x 147.3 mm
}

TEST(Sweep, EveryTouchFaultLeavesWholeCellsUnreached) {
  EXPECT_EQ(sweep("petal", {"digitizer-row-open"}).cells.size(), 14u * 33u);
  EXPECT_EQ(sweep("petal", {"digitizer-column-open"}).cells.size(), 12u * 35u);
  EXPECT_LE(sweep("petal", {"fold-flex-pinched"}).cells.size(), 14u * 34u);
  EXPECT_LE(sweep("petal", {"panel-cracked"}).cells.size(), 14u * 35u - 3);
}

TEST(Deeds, ADataCableGivesHalfAnAmpereAtFiveVoltsLessItsLoss) {
  TestPhone p;
  const double net_w = p.world.pack().voltage_v() * p.world.pack().current_a();
  EXPECT_NEAR(net_w, 2.5 * 0.88 - 0.28 * 3.9, 1e-9);
}

TEST(Deeds, ACableInKeepsThePadFromCharging) {
  TestPhone p;
  p.deed("place_on_pad");
  p.wait(6000);
  EXPECT_NE(p.say("dumpsys battery").find("Wireless powered: true"), std::string::npos);
  EXPECT_GT(p.world.pack().current_a(), 1.5);
  EXPECT_LT(p.world.pack().current_a(), 1.9);
  p.world.hands().set_cable(true);
  p.wait(300);
  EXPECT_NE(p.say("dumpsys battery").find("Wireless powered: false"), std::string::npos);
}

TEST(Deeds, AMisplacedCoilChargesWithAThirdOfTheCurrent) {
  TestPhone good, bad("petal", 1, {"coil-misplaced"});
  for (auto* p : {&good, &bad}) p->deed("place_on_pad"), p->wait(15000);
  EXPECT_NEAR(bad.world.pack().current_a() / good.world.pack().current_a(), 0.35, 0.03);
}

TEST(Deeds, HandsStopWhereTheyAreWhenItIsEnough) {
  TestPhone p;
  p.deed("fold");
  p.wait(500);
  p.world.hands().enough(p.world.now_us());
  EXPECT_FALSE(p.world.hands().busy());
  EXPECT_NEAR(p.world.hands().hinge_deg(p.world.now_us()), 90, 1);
  p.deed("place_on_pad");
  p.deed("leave_alone", "", 1);  // told something else half-way: the phone is laid down all the same
  EXPECT_TRUE(p.world.hands().on_pad());
}

TEST(Deeds, TheBenchsChargerGivesThreeAmperesEitherWayRound) {
  TestPhone p;
  for (const int side : {1, 2}) {
    p.deed("plug_in", "", side);
    p.wait(4000);
    EXPECT_NEAR(p.world.port().current_a(), 3, 1e-9);
    EXPECT_NE(p.say("dumpsys battery").find("USB powered: true"), std::string::npos);
    EXPECT_NE(p.say("dumpsys battery").find("Max charging current: 3000000"), std::string::npos);
    EXPECT_GT(p.world.pack().current_a(), 2);
    EXPECT_EQ(p.say("cat /sys/class/udc/velm8-usb.0/current_speed"), "super-speed\n");
  }
  p.deed("unplug");
  p.finish();
  EXPECT_TRUE(p.world.hands().cable());
}

TEST(Deeds, LookingAtTheOuterPanelClosesThePhoneAndTakesItsTime) {
  TestPhone p;
  int looked = 0;
  p.world.hands().on_looked = [&] { ++looked; };
  EXPECT_EQ(p.world.lit_panel(), 0u);
  p.deed("mark_fields", "outer", 7);
  p.wait(19'600);  // 1 s to close, 0.2 s, 1 s to begin, 7 times 2.5 s
  EXPECT_EQ(looked, 0);
  EXPECT_EQ(p.world.lit_panel(), 1u);
  p.wait(200);
  EXPECT_EQ(looked, 1);
  p.deed("mark_fields", "inner", 8);
  p.world.hands().enough(p.world.now_us());
  EXPECT_EQ(looked, 1);  // broken off
}

struct RefusedDeed {
  const char* name;
  const char* model;
  const char* deed;
  const char* part;
  double amount;
};
class Refused : public testing::TestWithParam<RefusedDeed> {};
TEST_P(Refused, WithAReason) {
  TestPhone p(GetParam().model);
  const auto action = action_named(GetParam().deed, GetParam().part, GetParam().amount);
  const auto r = action ? p.world.hands().begin(*action, 0) : Result<void>(action.error());
  ASSERT_FALSE(r);
  EXPECT_FALSE(r.error().what.empty());
  EXPECT_FALSE(p.world.hands().busy());
}
INSTANTIATE_TEST_SUITE_P(All, Refused,
                         testing::Values(RefusedDeed{"unknown", "petal", "juggle", "", 0},
                                         RefusedDeed{"no_panel", "plank", "sweep_panel", "outer", 0},
                                         RefusedDeed{"no_panel_to_look_at", "plank", "mark_fields", "outer",
                                                     7},
                                         RefusedDeed{"too_many_fields", "petal", "mark_fields", "inner", 9},
                                         RefusedDeed{"no_hinge", "plank", "fold", "", 0},
                                         RefusedDeed{"no_camera", "plank", "point_at_chart", "ultra", 0},
                                         RefusedDeed{"no_camera_to_cover", "plank", "cover_light", "wide", 0},
                                         RefusedDeed{"too_far", "petal", "hold_at_stop", "", 200},
                                         RefusedDeed{"no_cycles", "petal", "fold_cycles", "", 0},
                                         RefusedDeed{"not_plugged", "petal", "wiggle_plug", "", 3},
                                         RefusedDeed{"not_on_pad", "petal", "shift_on_pad", "", 4}),
                         [](const auto& i) { return i.param.name; });
}  // namespace
}  // namespace hb::standin
