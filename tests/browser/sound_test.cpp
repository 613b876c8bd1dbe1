// Sound through the page: the stand-in's small browser, and a real Chromium whose microphone plays a rendered
// recording over and over. HB_CHROMIUM names the program; without it those cases are skipped and shown so.
#include <cstdlib>

#include "checks/kernel/sound.hpp"
#include "checks/sound/sound.hpp"
#include "tests/browser/bench.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin::test {
namespace {
using checks::Sound;
using checks::SweepAsk;

class SoundBrowser : public testing::Test {
 protected:
  Browser::Ears ears() {
    return {2, 2, [this](const Playing& p, std::uint64_t n) { return record(unit, p, n); }};
  }
  Result<void> sweep(SweepAsk a) {
    return bench.run(bench.page->sweep(a, [this, a](const checks::Recording& r) {
      rate_hz = r.rate_hz, samples.assign(r.samples.begin(), r.samples.end());
      take = Sound::analyse(r, a);
    }));
  }
  SoundUnit unit = make_sound(*find_model("petal"), 3, {});
  Bench bench;
  int rate_hz = 0;
  std::vector<std::int16_t> samples;
  Sound::Take take;
};

class BuiltinSound : public SoundBrowser {
 protected:
  void SetUp() override {
    bench.phone_side.browser =
        Browser::builtin(bench.io, [](bool, int) -> std::optional<Lens> { return std::nullopt; });
    bench.phone_side.browser->hear(ears());
    bench.connect({});
    ASSERT_TRUE(bench.run(bench.page->open_for_sound()));
    bench.phone_side.browser->allow();
  }
};

TEST_F(BuiltinSound, GivesWhatEachMicrophoneHears) {
  const auto places = bench.run(bench.page->sound_places());
  ASSERT_TRUE(places) << places.error().message();
  EXPECT_EQ(places->microphones, 2);
  EXPECT_EQ(places->outputs, 2);
  std::uint64_t n = 0;
  for (const int output : {0, 1})
    for (const int microphone : {0, 1}) {
      SweepAsk a;
      a.output = output, a.microphone = microphone;
      const auto r = sweep(a);
      ASSERT_TRUE(r) << r.error().message();
      Playing p;
      p.output = output, p.microphone = microphone;
      EXPECT_EQ(samples, record(unit, p, n++));
      EXPECT_EQ(take.seen, Sound::Found::heard) << output << microphone;
    }
}

TEST_F(BuiltinSound, APlaceThatThePhoneDoesNotHaveIsNotFound) {
  SweepAsk a;
  a.microphone = 2;
  const auto r = sweep(a);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::not_found);
}

class ChromiumSound : public SoundBrowser {
 protected:
  void SetUp() override {
    const char* named = std::getenv("HB_CHROMIUM");
    program = named == nullptr ? "" : named;
    if (program.empty()) GTEST_SKIP() << "no Chromium on this machine";
  }
  void start() {
    bench.phone_side.browser =
        Browser::chromium(bench.io, program, [](bool, int) -> std::optional<Lens> { return std::nullopt; });
    bench.phone_side.browser->hear(ears());
    bench.connect({});
    ASSERT_TRUE(bench.run(bench.page->open_for_sound()));
  }
  std::string program;
};

TEST_F(ChromiumSound, TheRecordingIsFoundInTheLoopAndMeasuredAsItWasRendered) {
  start();
  bench.phone_side.browser->allow();
  const auto places = bench.run(bench.page->sound_places());
  ASSERT_TRUE(places) << places.error().message();
  EXPECT_GE(places->microphones, 1);
  EXPECT_GE(places->outputs, 1);
  SweepAsk a;
  a.lead_s = 0.3, a.tail_s = 1.1;  // a whole answer fits, wherever in the loop the recording begins
  const auto r = sweep(a);
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(rate_hz, 48000);
  EXPECT_EQ(samples.size(), 48000u * 24 / 10);
  ASSERT_EQ(take.seen, Sound::Found::heard);
  checks::Recording rendered;
  rendered.rate_hz = 48000, rendered.samples = record(unit, Playing{}, 0);
  const auto direct = Sound::analyse(rendered, SweepAsk{});
  ASSERT_EQ(direct.seen, Sound::Found::heard);
  for (std::size_t k = 0; k < direct.band_db.size(); ++k)
    EXPECT_NEAR(take.band_db[k], direct.band_db[k], 0.5) << k;
  for (std::size_t k = 0; k < direct.thd.size(); ++k) EXPECT_NEAR(take.thd[k], direct.thd[k], 0.01) << k;
}

TEST_F(ChromiumSound, AMicrophoneThatTheBrowserDoesNotHaveIsNotFound) {
  start();
  bench.phone_side.browser->allow();
  SweepAsk a;
  a.microphone = 40;
  const auto r = sweep(a);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::not_found);
}

// The page itself in a browser of the test's own.
class ChromiumSoundPage : public ChromiumSound {
 protected:
  void open(std::vector<std::string> flags) {
    bench.connect({});
    std::optional<Result<void>> opened;
    net::co_spawn(bench.io, keep(bench.page->open_for_sound(), &opened), net::detached);
    ASSERT_TRUE(bench.run_until([&] { return !bench.phone_side.opened.empty(); }));
    auto launched = Devtools::launch(bench.io, program, std::move(flags));
    ASSERT_TRUE(launched) << launched.error().message();
    devtools = std::move(*launched);
    ASSERT_TRUE(bench.run(devtools->attach()));
    nlohmann::json where;
    where["url"] = bench.phone_side.opened.back();
    ASSERT_TRUE(bench.run(devtools->call("Page.navigate", where)));
    ASSERT_TRUE(bench.run_until([&] { return opened.has_value(); }));
    ASSERT_TRUE(*opened) << (*opened).error().message();
  }
  std::string text() {
    const auto seen = bench.run(devtools->evaluate("document.body.innerText"));
    return seen && seen->is_string() ? seen->get<std::string>() : std::string();
  }
  std::unique_ptr<Devtools> devtools;
};

TEST_F(ChromiumSoundPage, PlaysTheSweepThatTheBenchTakesApart) {
  open({"--use-fake-device-for-media-stream"});
  const auto x =
      bench.run(devtools->evaluate("(() => { const x = new Float32Array(50000); sweep_into(x, {f1: 100, f2: "
                                   "20000, seconds: 1, level: 1}, 48000);"
                                   " return Array.from(x.filter((v, k) => k % 101 === 0)); })()"));
  ASSERT_TRUE(x && x->is_array());
  const auto expected = kernel::samples_of(kernel::Sweep{});
  ASSERT_GT(x->size(), 400u);
  double largest = 0;
  for (std::size_t i = 0; i < x->size(); ++i) {
    const double want = 101 * i < expected.size() ? expected[101 * i] : 0;
    EXPECT_NEAR(x->at(i).get<double>(), want, 1e-6) << i;
    largest = std::max(largest, std::abs(want));
  }
  EXPECT_GT(largest, 0.9);
}

TEST_F(ChromiumSoundPage, AsksForTheMicrophoneAndARefusalIsRefused) {
  open({"--use-fake-device-for-media-stream"});
  EXPECT_NE(text().find("asks for the microphone"), std::string::npos) << text();
  std::optional<Result<checks::SoundPlaces>> places;
  net::co_spawn(bench.io, keep(bench.page->sound_places(), &places), net::detached);
  nlohmann::json denied = nlohmann::json::parse(R"({"permission":{"name":"microphone"},"setting":"denied"})");
  ASSERT_TRUE(bench.run(devtools->call("Browser.setPermission", denied)));
  ASSERT_TRUE(bench.run(devtools->evaluate("document.querySelector('#start').click()")));
  ASSERT_TRUE(bench.run_until([&] { return places.has_value(); }));
  ASSERT_FALSE(*places);
  EXPECT_EQ(places->error().code, ErrorCode::refused);
  EXPECT_NE(text().find("microphone was not allowed"), std::string::npos) << text();
}
}  // namespace
}  // namespace hb::standin::test
