// Side keys against small key switches: presses, chatter and a held key as the kernel would tell them.
#include "checks/keys/keys.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <deque>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;
using testing::ElementsAre;
using testing::IsEmpty;

constexpr std::uint16_t kUp = 115, kPower = 116;

Keys::Config two_keys(bool lid = false) {
  Keys::Config c;
  c.keys = {{Term("power"), kPower}, {Term("volume up"), kUp}};
  c.lid_switch = lid;
  return c;
}

std::vector<Limit> limits(bool lid = false) {
  std::vector<Limit> out;
  for (const char* key :
       {"keys.presses_missed", "keys.bounces", "keys.presses_at_rest", "keys.stuck_at_rest"})
    out.push_back({key, {}, {}, 0.0, LimitOrigin::common_practice});
  out.push_back({"keys.longest_press_s", {}, {}, 1.5, LimitOrigin::common_practice});
  if (lid) out.push_back({"keys.lid_toggles_off", {}, {}, 0.0, LimitOrigin::common_practice});
  return out;
}

struct Judged {
  Outcome outcome = Outcome::not_tested;
  std::vector<std::string> named;
};
Judged judged(const Keys::Capture& c, const Keys::Config& config) {
  const auto r = fakes::judge<Keys>(c, config, limits(config.lid_switch));
  if (!r) return {};
  return {r->outcome, fakes::named(r->findings)};
}

/// down at t, up after `held_s`.
void press(Keys::Capture& c, int code, double t, double held_s, Keys::Phase phase = Keys::Phase::presses) {
  c.events.push_back({phase, t, false, code, true});
  c.events.push_back({phase, t + held_s, false, code, false});
}
Keys::Capture healthy() {
  Keys::Capture c;
  c.asked = {kPower, kUp};
  for (int i = 0; i < 3; ++i) press(c, kPower, 10 + i, 0.2), press(c, kUp, 20 + i, 0.2 + 0.1 * i);
  return c;
}

TEST(KeysMeasure, CountsPressesAndTheLongest) {
  const auto m = Keys::measure(healthy(), two_keys());
  ASSERT_TRUE(m);
  EXPECT_EQ(find(*m, "keys.presses_seen", "power")->value, 3);
  EXPECT_EQ(find(*m, "keys.presses_seen", "power")->u, 0);
  EXPECT_EQ(find(*m, "keys.presses_missed", "volume up")->value, 0);
  EXPECT_NEAR(find(*m, "keys.longest_press_s", "volume up")->value, 0.4, 1e-9);
  EXPECT_EQ(judged(healthy(), two_keys()).outcome, Outcome::pass);
}

struct Row {
  const char* name;
  std::function<void(Keys::Capture&)> change;
  Outcome outcome;
  std::vector<std::string> named;
};
class KeysTable : public testing::TestWithParam<Row> {};
TEST_P(KeysTable, IsJudgedAndNamed) {
  auto c = healthy();
  GetParam().change(c);
  const auto j = judged(c, two_keys());
  EXPECT_EQ(j.outcome, GetParam().outcome);
  EXPECT_EQ(j.named, GetParam().named);
  EXPECT_EQ(nlohmann::json(c).get<Keys::Capture>(), c) << "the journal keeps all of it";
}
void drop(Keys::Capture& c, int code, std::size_t left) {
  std::size_t seen = 0;
  std::erase_if(c.events, [&](const auto& e) { return e.code == code && seen++ >= left; });
}
INSTANTIATE_TEST_SUITE_P(
    Situations, KeysTable,
    testing::Values(
        Row{"no_press_seen", [](auto& c) { drop(c, kUp, 0); }, Outcome::fail, {"key_flex_open volume up"}},
        Row{"one_press_missed",
            [](auto& c) { drop(c, kUp, 4); },
            Outcome::fail,
            {"key_worn_or_dirty volume up"}},
        Row{"one_press_more_than_asked", [](auto& c) { press(c, kUp, 40, 0.2); }, Outcome::pass, {}},
        Row{"again_after_39_ms_is_a_bounce",
            [](auto& c) { press(c, kPower, 12.239, 0.1); },
            Outcome::fail,
            {"key_worn_or_dirty power"}},
        Row{"again_after_41_ms_is_a_press",
            [](auto& c) { press(c, kPower, 12.241, 0.1); },
            Outcome::pass,
            {}},
        Row{"held_down_from_the_start",
            [](auto& c) {
              drop(c, kUp, 0);
              c.down_at_rest = {kUp};
            },
            Outcome::fail,
            {"key_stuck volume up"}},
        Row{"does_not_come_up_again",
            [](auto& c) {
              drop(c, kUp, 5);
              c.down_after = {kUp};
            },
            Outcome::fail,
            {"key_stuck volume up"}},
        Row{"springs_back_late",
            [](auto& c) { press(c, kUp, 40, 3); },
            Outcome::fail,
            {"key_stuck volume up"}},
        Row{"closes_by_itself",
            [](auto& c) { press(c, kPower, 1, 0.1, Keys::Phase::rest); },
            Outcome::fail,
            {"key_worn_or_dirty power"}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(KeysMeasure, ABounceIsNoPressAndTheHoldGoesOnThroughIt) {
  Keys::Capture c;
  c.asked = {kPower, kUp};
  press(c, kPower, 5, 0.010), press(c, kPower, 5.020, 0.010), press(c, kPower, 5.040, 0.200);
  const auto m = Keys::measure(c, two_keys());
  EXPECT_EQ(find(*m, "keys.presses_seen", "power")->value, 1);
  EXPECT_EQ(find(*m, "keys.bounces", "power")->value, 2);
  EXPECT_NEAR(find(*m, "keys.longest_press_s", "power")->value, 0.24, 1e-9);
}

TEST(KeysLid, TwoChangesOverOneFoldAreRight) {
  for (const int toggles : {0, 1, 2, 4}) {
    auto c = healthy();
    c.folded = true;
    for (int i = 0; i < toggles; ++i) c.events.push_back({Keys::Phase::fold, 50.0 + i, true, 0, i % 2 == 0});
    const auto j = judged(c, two_keys(true));
    EXPECT_EQ(j.outcome, toggles == 2 ? Outcome::pass : Outcome::fail) << toggles;
    EXPECT_EQ(j.named.size(), toggles == 2 ? 0u : 1u) << toggles;
    for (const auto& id : j.named) EXPECT_EQ(id, "lid_switch_wrong ");
  }
}

TEST(KeysLid, AFoldThatWasNotMadeIsNotAPass) {
  EXPECT_EQ(judged(healthy(), two_keys(true)).outcome, Outcome::not_tested);
}

TEST(KeysMeasure, ACaptureOfAnotherProfileIsRefused) {
  Keys::Capture c;
  c.asked = {kPower};
  EXPECT_EQ(Keys::measure(c, two_keys()).error().code, ErrorCode::bad_format);
}

// ---------------------------------------------------------------------------------- acquiring

struct Queue {
  std::deque<phone::InputEvent> events;
  bool stuck = false;
};
class FakeStream final : public phone::TouchStream {
 public:
  explicit FakeStream(Queue& q) : q_(q) {}
  net::awaitable<Result<std::vector<phone::InputEvent>>> read(net::milliseconds) override {
    std::vector<phone::InputEvent> out(q_.events.begin(), q_.events.end());
    q_.events.clear();
    co_return out;
  }
  net::awaitable<Result<std::vector<phone::InputEvent>>> finish(net::milliseconds limit) override {
    if (q_.stuck) co_return Error{ErrorCode::timed_out, "stuck", "", ""};
    co_return co_await read(limit);
  }
  std::uint64_t bad_lines() const override { return 0; }
  void close() override {}

 private:
  Queue& q_;
};

struct KeyBench : Bench {
  Queue keys, lid;
  std::vector<phone::KeyDevice> devices{{1, {114, kUp, kPower}, {}, false}, {6, {}, {}, true}};
  KeyBench() {
    phone.on_input_devices = [this]() -> Result<phone::InputDevices> {
      phone::InputDevices d;
      d.keys = devices;
      for (const auto& k : devices) d.has_lid_switch = d.has_lid_switch || k.lid;
      return d;
    };
    phone.on_touch = [this](int node) -> Result<std::unique_ptr<phone::TouchStream>> {
      std::unique_ptr<phone::TouchStream> s = std::make_unique<FakeStream>(node == 1 ? keys : lid);
      return s;
    };
    hands.on_begin = [this](const Action& action) {
      const auto push = [&](Queue& q, std::uint16_t type, std::uint16_t code, int value) {
        q.events.push_back({time.s, type, code, value});
        time.s += 0.1;
      };
      if (const auto* press = std::get_if<PressKey>(&action))
        for (int i = 0; i < press->times; ++i) {
          const std::uint16_t code = press->key.str() == "power" ? kPower : kUp;
          push(keys, 1, code, 1), push(keys, 1, code, 2), push(keys, 1, code, 0);
          push(keys, 1, 114, 1), push(keys, 1, 114, 0);  // a key that the profile does not name
        }
      if (std::holds_alternative<Unfold>(action))
        push(lid, 5, 0, 0);  // it lay closed: this change does not count
      if (std::holds_alternative<FoldCycles>(action)) push(lid, 5, 0, 1), push(lid, 5, 0, 0);
    };
  }
};

TEST(KeysAcquire, AsksForEachKeyAndOneFoldAndPasses) {
  KeyBench b;
  const auto config = two_keys(true);
  const auto c = fakes::run(Keys{}.acquire(b.context, config));
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_THAT(b.hands.actions, ElementsAre(Action(LeaveAlone{2}), Action(PressKey{config.keys.at(0).name, 3}),
                                           Action(PressKey{config.keys.at(1).name, 3}), Action(Unfold{}),
                                           Action(FoldCycles{1})));
  EXPECT_EQ(c->events.size(), 15u) << "the kernel's repetition and other keys are left out";
  EXPECT_EQ(judged(*c, two_keys(true)).outcome, Outcome::pass);
}

TEST(KeysAcquire, AKeyHeldDownAtRestIsReadFromTheList) {
  KeyBench b;
  b.devices[0].down = {kUp};
  const auto c = fakes::run(Keys{}.acquire(b.context, two_keys()));
  ASSERT_TRUE(c);
  EXPECT_THAT(c->down_at_rest, ElementsAre(kUp));
}

TEST(KeysAcquire, AKeyThatThePhoneDoesNotListIsNotTested) {
  KeyBench b;
  b.devices[0].keys = {114, kUp};
  EXPECT_EQ(fakes::run(Keys{}.acquire(b.context, two_keys())).error().code, ErrorCode::unsupported);
  EXPECT_THAT(b.hands.actions, IsEmpty());
}

TEST(KeysAcquire, AStuckStreamOfEventsIsNotJudged) {
  KeyBench b;
  b.keys.stuck = true;
  EXPECT_EQ(fakes::run(Keys{}.acquire(b.context, two_keys())).error().code, ErrorCode::timed_out);
}

TEST(KeysAcquire, HandsThatNeverFinishAreToldToStop) {
  KeyBench b;
  b.hands.seconds = [](const Action& a) { return std::holds_alternative<PressKey>(a) ? 1e6 : 1.0; };
  EXPECT_EQ(fakes::run(Keys{}.acquire(b.context, two_keys())).error().code, ErrorCode::timed_out);
  EXPECT_EQ(b.hands.enoughs, 1);
}
}  // namespace
}  // namespace hb::checks
