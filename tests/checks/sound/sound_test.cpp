// Speakers and microphones: the check against the simulated way of sound, by a page in memory.
#include "checks/sound/sound.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tests/checks/bench_fakes/bench_fakes.hpp"
#include "tools/standin/physics/sound.hpp"

namespace hb::checks {
namespace {
using fakes::find;
using standin::Playing;
using standin::SoundUnit;

Sound::Config whole() {
  Sound::Config c;
  c.speakers = {{Term("loudspeaker"), 0}, {Term("earpiece"), 1}};
  c.microphones = {{Term("bottom microphone"), 0, {-6.5, -36.5}},
                   {Term("top microphone"), 1, {-22.5, -16.5}}};
  return c;
}

struct Room final : fakes::Bench, PagePort {
  explicit Room(const std::vector<std::string>& faults = {}, std::uint64_t seed = 1)
      : unit(standin::make_sound(*standin::find_model("petal"), seed,
                                 standin::Faults::parse(faults, "petal").value())) {
    context.page = this;
  }
  SoundUnit unit;
  Sound::Config config = whole();
  SoundPlaces places{2, 2};
  int rate_hz = 48000, sweeps = 0;
  double gain = 1;
  std::optional<ErrorCode> open_fails, places_fail, sweep_fails;

  net::awaitable<Result<void>> open() override { co_return Result<void>{}; }
  net::awaitable<Result<int>> cameras(Facing) override { co_return 0; }
  net::awaitable<Result<void>> frames(Facing, int, int, int, int, FrameSink) override {
    co_return Error{ErrorCode::unsupported, "no", "", ""};
  }
  net::awaitable<Result<void>> close() override { co_return Result<void>{}; }
  net::awaitable<Result<void>> open_for_sound() override {
    if (open_fails) co_return Error{*open_fails, "no", "", ""};
    co_return Result<void>{};
  }
  net::awaitable<Result<SoundPlaces>> sound_places() override {
    if (places_fail) co_return Error{*places_fail, "no", "", ""};
    co_return places;
  }
  net::awaitable<Result<void>> sweep(SweepAsk a, RecordingSink sink) override {
    if (sweep_fails) co_return Error{*sweep_fails, "no", "", ""};
    Playing p;
    p.output = a.output, p.microphone = a.microphone, p.rate_hz = rate_hz;
    p.f1_hz = a.f1_hz, p.f2_hz = a.f2_hz, p.sweep_s = a.sweep_s, p.level = a.level;
    p.lead_s = a.lead_s, p.tail_s = a.tail_s;
    Recording r;
    r.rate_hz = rate_hz;
    for (const auto v : standin::record(unit, p, static_cast<std::uint64_t>(sweeps++)))
      r.samples.push_back(static_cast<std::int16_t>(std::lround(std::clamp(gain * v, -32768.0, 32767.0))));
    sink(r);
    co_return Result<void>{};
  }
  Result<Sound::Capture> listen() { return fakes::run(Sound{}.acquire(context, config)); }
};

std::vector<Limit> limits() {
  std::vector<Limit> all;
  const auto at_least = [&](const char* key, double v) {
    all.push_back({key, {}, v, {}, LimitOrigin::common_practice});
  };
  const auto at_most = [&](const char* key, double v) {
    all.push_back({key, {}, {}, v, LimitOrigin::common_practice});
  };
  for (const Term part : {Term("loudspeaker"), Term("earpiece")})
    at_least("sound.speaker_heard", 1), all.back().part = part;
  for (const Term part : {Term("bottom microphone"), Term("top microphone")})
    at_least("sound.microphone_heard", 1), all.back().part = part;
  at_least("sound.speaker_level_db", -7), at_least("sound.microphone_level_db", -7);
  at_least("sound.speaker_treble_db", -7), at_least("sound.microphone_treble_db", -7);
  at_most("sound.speaker_thd_pct", 15), at_most("sound.speaker_rub_buzz_db", -22);
  return all;
}

struct Row {
  const char* name;
  std::vector<std::string> faults;
  std::function<void(Room&)> change;
  Outcome outcome;
  std::vector<std::string> named;
};
void keep_as_is(Room&) {}
void one_microphone(Room& r) { r.config.microphones.resize(1); }
void one_speaker(Room& r) {
  r.config.speakers.resize(1);
  for (auto& m : r.config.microphones) m.levels_db.resize(1);
}
void one_of_each(Room& r) { one_speaker(r), one_microphone(r); }

class SoundTable : public testing::TestWithParam<Row> {};
TEST_P(SoundTable, IsJudgedAndNamed) {
  Room room(GetParam().faults, 5);
  GetParam().change(room);
  const auto c = room.listen();
  ASSERT_TRUE(c) << c.error().message();
  auto judged_by = limits();
  std::erase_if(judged_by, [&](const Limit& l) {  // the row's profile has fewer parts
    return !l.part.empty() &&
           std::none_of(room.config.speakers.begin(), room.config.speakers.end(),
                        [&](const auto& s) { return s.name == l.part; }) &&
           std::none_of(room.config.microphones.begin(), room.config.microphones.end(),
                        [&](const auto& m) { return m.name == l.part; });
  });
  const auto r = fakes::judge<Sound>(*c, room.config, judged_by);
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::named(r->findings), GetParam().named);
  const auto again = nlohmann::json(*c).get<Sound::Capture>();
  EXPECT_EQ(nlohmann::json(again), nlohmann::json(*c)) << "the journal keeps all of it";
}
INSTANTIATE_TEST_SUITE_P(
    Situations, SoundTable,
    testing::Values(
        Row{"healthy", {}, keep_as_is, Outcome::pass, {}},
        Row{"speaker_dead", {"speaker-dead"}, keep_as_is, Outcome::fail, {"speaker_silent loudspeaker"}},
        Row{"earpiece_dead", {"earpiece-dead"}, keep_as_is, Outcome::fail, {"speaker_silent earpiece"}},
        Row{"both_speakers_dead_is_not_told_from_a_volume_of_zero",
            {"speaker-dead", "earpiece-dead"},
            keep_as_is,
            Outcome::fail,
            {"nothing_heard loudspeaker"}},
        Row{"speaker_mesh_blocked",
            {"speaker-mesh-blocked"},
            keep_as_is,
            Outcome::fail,
            {"speaker_mesh_blocked loudspeaker"}},
        Row{"speaker_rubs", {"speaker-rub"}, keep_as_is, Outcome::fail, {"speaker_rubs loudspeaker"}},
        Row{"speaker_torn", {"speaker-torn"}, keep_as_is, Outcome::fail, {"speaker_distorts loudspeaker"}},
        Row{"microphone_dead",
            {"microphone-dead"},
            keep_as_is,
            Outcome::fail,
            {"microphone_silent bottom microphone"}},
        Row{"microphone_mesh_blocked",
            {"microphone-mesh-blocked"},
            keep_as_is,
            Outcome::fail,
            {"microphone_mesh_blocked bottom microphone"}},
        Row{"blocked_speaker_and_dead_microphone_are_both_named",
            {"speaker-mesh-blocked", "microphone-dead"},
            keep_as_is,
            Outcome::fail,
            {"speaker_mesh_blocked loudspeaker", "microphone_silent bottom microphone"}},
        Row{"dull_at_both_microphones_of_one_speaker_is_the_speaker",
            {"speaker-mesh-blocked"},
            one_speaker,
            Outcome::fail,
            {"speaker_mesh_blocked loudspeaker"}},
        Row{"dull_from_both_speakers_at_the_one_microphone_is_the_microphone",
            {"microphone-mesh-blocked"},
            one_microphone,
            Outcome::fail,
            {"microphone_mesh_blocked bottom microphone"}},
        Row{"one_of_each_is_either_or",
            {"microphone-mesh-blocked"},
            one_of_each,
            Outcome::fail,
            {"one_mesh_blocked loudspeaker"}},
        Row{"half_the_volume",
            {},
            [](Room& r) { r.gain = 0.2; },
            Outcome::fail,
            {"everything_quiet loudspeaker"}},
        Row{"earpiece_out_of_the_browsers_reach_is_not_passed",
            {},
            [](Room& r) { r.places.outputs = 1; },
            Outcome::not_tested,
            {}},
        Row{"a_browser_with_no_microphone",
            {},
            [](Room& r) { r.places.microphones = 0; },
            Outcome::not_tested,
            {}},
        Row{"too_slow_a_recording", {}, [](Room& r) { r.rate_hz = 16000; }, Outcome::not_tested, {}},
        Row{"too_loud_a_room", {}, [](Room& r) { r.unit.room_dbfs = -35; }, Outcome::not_tested, {}},
        Row{"clipped_at_its_own_microphone_is_judged_at_the_other",
            {},
            [](Room& r) { r.gain = 12; },
            Outcome::pass,
            {}},
        Row{"clipped_with_no_other_is_not_judged",
            {},
            [](Room& r) { one_of_each(r), r.gain = 12; },
            Outcome::not_tested,
            {}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(SoundSeeds, SixHealthyPhonesPass) {
  for (std::uint64_t seed = 20; seed < 26; ++seed) {
    Room room({}, seed);
    const auto r = fakes::judge<Sound>(room.listen().value(), room.config, limits());
    EXPECT_EQ(r->outcome, Outcome::pass) << seed;
  }
}

TEST(SoundMeasure, TheBestPartnerCountsSoThatADeadOneDoesNot) {
  Room good({}, 5), bad({"microphone-dead"}, 5);
  const auto g = Sound::measure(good.listen().value(), good.config);
  const auto b = Sound::measure(bad.listen().value(), bad.config);
  ASSERT_TRUE(g && b);
  EXPECT_EQ(find(*b, "sound.microphone_heard", "bottom microphone")->value, 0);
  EXPECT_EQ(find(*b, "sound.microphone_level_db", "bottom microphone"), nullptr);
  EXPECT_LT(find(*b, "sound.microphone_noise_dbfs", "bottom microphone")->value, -85);
  for (const char* part : {"loudspeaker", "earpiece"}) {
    EXPECT_EQ(find(*b, "sound.speaker_heard", part)->value, 1);
    EXPECT_NEAR(find(*b, "sound.speaker_level_db", part)->value,
                find(*g, "sound.speaker_level_db", part)->value, 3);
  }
  for (const auto& m : g->measures) EXPECT_EQ(m.u > 0, !m.key.view().ends_with("heard")) << m.key.str();
}

// The unit's own distortion: 20 % of an excursion squared, 12 % cubed, on top of a good one's.
TEST(SoundMeasure, ATornMembraneDistortsTenTimesAsMuchAndDoesNotBuzz) {
  Room good({}, 5), torn({"speaker-torn"}, 5), half({"speaker-torn:0.5"}, 5);
  const auto thd = [](Room& r, const char* key) {
    return find(Sound::measure(r.listen().value(), r.config).value(), key, "loudspeaker")->value;
  };
  const double base = thd(good, "sound.speaker_thd_pct");
  EXPECT_LT(base, 6);
  EXPECT_GT(thd(torn, "sound.speaker_thd_pct"), 30);
  EXPECT_NEAR(thd(half, "sound.speaker_thd_pct"), base / 2 + thd(torn, "sound.speaker_thd_pct") / 2, 6);
  EXPECT_LT(thd(torn, "sound.speaker_rub_buzz_db"), -40);
}

struct Why {
  const char* name;
  std::function<void(Room&)> change;
  ErrorCode code;
};
TEST(SoundAcquire, WhatStopsIt) {
  const Why rows[] = {
      {"no browser", [](Room& r) { r.context.page = nullptr; }, ErrorCode::unsupported},
      {"page not opened", [](Room& r) { r.open_fails = ErrorCode::timed_out; }, ErrorCode::unsupported},
      {"microphone refused", [](Room& r) { r.places_fail = ErrorCode::refused; }, ErrorCode::unsupported},
      {"late", [](Room& r) { r.sweep_fails = ErrorCode::timed_out; }, ErrorCode::unsupported},
      {"nobody taps", [](Room& r) { r.hands.seconds = [](const Action&) { return 1e9; }; },
       ErrorCode::unsupported},
      {"cable", [](Room& r) { r.sweep_fails = ErrorCode::link_lost; }, ErrorCode::link_lost},
      {"cancelled", [](Room& r) { r.places_fail = ErrorCode::cancelled; }, ErrorCode::cancelled},
  };
  for (const auto& row : rows) {
    Room room;
    row.change(room);
    const auto c = room.listen();
    ASSERT_FALSE(c) << row.name;
    EXPECT_EQ(c.error().code, row.code) << row.name;
  }
}

TEST(SoundAcquire, EachPairIsHeardTwiceAndThePhoneIsLeftAloneMeanwhile) {
  Room room;
  const auto c = room.listen();
  ASSERT_TRUE(c);
  EXPECT_EQ(room.sweeps, 8);
  EXPECT_EQ(c->takes.size(), 8u);
  EXPECT_EQ(name(room.hands.actions.back()), LeaveAlone::name);
  EXPECT_EQ(room.hands.enoughs, 1);
}

TEST(SoundAnalyse, IsTotal) {
  const SweepAsk asked;
  for (const std::size_t n : {std::size_t{0}, std::size_t{1}, std::size_t{500}, std::size_t{96000}}) {
    Recording r;
    r.rate_hz = 48000;
    for (const int fill : {0, 1, 32767, -32768}) {
      r.samples.assign(n, static_cast<std::int16_t>(fill));
      EXPECT_NE(Sound::analyse(r, asked).seen, Sound::Found::heard) << n << ' ' << fill;
    }
  }
  Recording r;
  r.rate_hz = 0;
  EXPECT_EQ(Sound::analyse(r, asked).seen, Sound::Found::too_slow);
}

TEST(SoundCapture, ATornOneIsRefused) {
  Room room;
  const auto whole_capture = room.listen().value();
  for (auto tear :
       {+[](Sound::Take& t) { t.thd.pop_back(); }, +[](Sound::Take& t) { t.band_db[3] = std::nan(""); },
        +[](Sound::Take& t) { t.rub_db = INFINITY; }}) {
    auto c = whole_capture;
    tear(c.takes[2]);
    const auto m = Sound::measure(c, room.config);
    ASSERT_FALSE(m);
    EXPECT_EQ(m.error().code, ErrorCode::bad_format);
  }
}
}  // namespace
}  // namespace hb::checks
