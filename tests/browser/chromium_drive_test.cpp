// The page's script drives a camera in a real Chromium. Its false camera has neither focus nor light, so what
// a camera offers, and what is asked of it, go through functions of the test's own.
#include "tests/browser/chromium_page.hpp"

namespace hb::standin::test {
namespace {
using checks::Facing;
const checks::CameraAsk kAsk{Facing::back, 0, 640, 480}, kSmall{Facing::back, 0, 160, 120};

class ChromiumDrive : public ChromiumPage {
 protected:
  void allowed() {
    open({"--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"});
    tap_start();
    ASSERT_TRUE(shows("Point the camera at the chart"));
  }
  // A camera that can do `capabilities`, and notes in `asked` what was asked of it; `refuses`: an expression
  // of `c`, the constraints.
  void offer(const std::string& capabilities, const std::string& refuses = "false") {
    const auto done = bench.run(
        devtools->evaluate("(() => { window.asked = []; window.stopped = 0; let now = {};"
                           " const t = MediaStreamTrack.prototype, end = t.stop;"
                           " t.getCapabilities = () => (" +
                           capabilities +
                           ");"
                           " t.getSettings = () => now;"
                           " t.applyConstraints = async (all) => { const c = all.advanced[0]; asked.push(c);"
                           "   if (" +
                           refuses +
                           ") throw new DOMException('', 'NotSupportedError'); now = c; };"
                           " t.stop = function () { asked.push('stop'); end.call(this); };"
                           " return true; })()"));
    ASSERT_TRUE(done && done->is_boolean());
  }
  nlohmann::json asked() {
    const auto list = bench.run(devtools->evaluate("asked"));
    return list ? *list : nlohmann::json();
  }
  Result<void> focus(int steps, int each) {
    settings.clear();
    checks::FrameSink sink = [this](int, const checks::Frame& f) { settings.push_back(f.focus_m); };
    return bench.run(bench.page->focus_frames(kAsk, steps, each, std::move(sink)));
  }
  Result<void> light(int dark, int lit) {
    frames = 0;
    checks::FrameSink sink = [this](int, const checks::Frame& f) {
      ++frames;
      EXPECT_EQ(f.width, 160);
      EXPECT_EQ(f.height, 120);
    };
    return bench.run(bench.page->light_frames(kSmall, dark, lit, std::move(sink)));
  }
  std::vector<double> settings;
  int frames = 0;
};

TEST_F(ChromiumBrowser, AFilmOffersNeitherFocusNorLightAndSaysSo) {
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  const auto focused = bench.run(bench.page->focus_frames(kAsk, 5, 2, checks::FrameSink{}));
  const auto lit = bench.run(bench.page->light_frames(kAsk, 2, 3, checks::FrameSink{}));
  for (const auto* done : {&focused, &lit}) {
    ASSERT_FALSE(*done);
    EXPECT_EQ(done->error().code, ErrorCode::unsupported);
    EXPECT_NE(done->error().what.find("does not offer"), std::string::npos);
  }
}

TEST_F(ChromiumDrive, TheBrowsersOwnFalseCameraTakesSettingsFromFarToNear) {
  allowed();
  const auto done = focus(5, 2);
  if (!done) GTEST_SKIP() << "this version's false camera has no focus";
  ASSERT_EQ(settings.size(), 10u);
  for (std::size_t i = 2; i < 10; i += 2) EXPECT_LT(settings[i], settings[i - 1]);
}

TEST_F(ChromiumDrive, WhatOnlyLooksLikeAnOfferIsNone) {
  allowed();
  // A fixed lens has no nearest distance.
  offer("{focusMode: ['manual'], focusDistance: {min: 0, max: 5, step: 0.01}, torch: false}");
  EXPECT_FALSE(focus(5, 2));
  EXPECT_FALSE(light(2, 3));
  offer("{focusMode: ['continuous'], focusDistance: {min: 0.1, max: 5, step: 0.01}}");
  EXPECT_FALSE(focus(5, 2));
  // One that is offered and refused.
  offer("{focusMode: ['manual'], focusDistance: {min: 0.1, max: 5, step: 0.01}, torch: true}", "true");
  for (const auto& done : {focus(5, 2), light(2, 3)}) {
    ASSERT_FALSE(done);
    EXPECT_EQ(done.error().code, ErrorCode::unsupported);
  }
}

TEST_F(ChromiumDrive, FocusGoesFromFarToNearInEvenDioptresAndIsGivenBack) {
  allowed();
  offer("{focusMode: ['manual', 'continuous'], focusDistance: {min: 0.1, max: 5, step: 0.01}}");
  const auto done = focus(3, 2);
  ASSERT_TRUE(done) << done.error().message();
  ASSERT_EQ(settings.size(), 6u);
  for (std::size_t i = 0; i < 6; ++i)
    EXPECT_NEAR(1 / settings[i], 0.2 + 4.9 * static_cast<double>(i / 2), 1e-6);
  const auto list = asked();
  ASSERT_EQ(list.size(), 5u) << list;
  for (std::size_t k = 0; k < 3; ++k) {
    EXPECT_EQ(list[k].value("focusMode", ""), "manual");
    EXPECT_NEAR(list[k].value("focusDistance", 0.0), settings[2 * k], 1e-7);
  }
  EXPECT_EQ(list[3].value("focusMode", ""), "continuous");
  EXPECT_EQ(list[4], "stop");
}

TEST_F(ChromiumDrive, ALensThatReachesInfinityIsSetNoFartherThanAHundredMetres) {
  allowed();
  offer("{focusMode: ['manual'], focusDistance: {min: 0.1, max: Infinity, step: 0.01}}");
  ASSERT_TRUE(focus(2, 1));
  EXPECT_NEAR(settings.at(0), 100, 1e-6);
}

TEST_F(ChromiumDrive, TheLightIsOnForItsPicturesOnlyAndTheExposureHeld) {
  allowed();
  offer("{torch: true, exposureMode: ['manual', 'continuous']}");
  const auto done = light(2, 3);
  ASSERT_TRUE(done) << done.error().message();
  EXPECT_EQ(frames, 7);
  const auto list = asked();
  const auto expected = nlohmann::json::parse(
      R"([{"exposureMode":"manual","torch":false},{"exposureMode":"manual","torch":true},
          {"exposureMode":"manual","torch":false},{"exposureMode":"continuous","torch":false},"stop"])");
  EXPECT_EQ(list, expected);
}

// The bench gives up in the middle: the page's next picture is refused, and the light goes out.
TEST_F(ChromiumDrive, ACancelledTakePutsTheLightOut) {
  allowed();
  offer("{torch: true}");
  std::optional<Result<void>> done;
  net::asio::cancellation_signal stop;
  checks::FrameSink sink = [&](int i, const checks::Frame&) {
    if (i == 2) net::asio::post(bench.io, [&] { stop.emit(net::asio::cancellation_type::all); });
  };
  net::co_spawn(bench.io, keep(bench.page->light_frames(kAsk, 2, 9, std::move(sink)), &done),
                net::asio::bind_cancellation_slot(stop.slot(), net::detached));
  ASSERT_TRUE(bench.run_until([&] { return done.has_value(); }));
  EXPECT_FALSE(*done);
  nlohmann::json list;
  for (int i = 0; i < 100 && (list.empty() || list.back() != "stop"); ++i) {
    static_cast<void>(bench.run(net::pause(50ms)));
    list = asked();
  }
  const auto expected = nlohmann::json::parse(R"([{"torch":false},{"torch":true},{"torch":false},"stop"])");
  EXPECT_EQ(list, expected);
}

// The link is lost: no answer to a picture ever comes, or an error does.
TEST_F(ChromiumDrive, ALostLinkPutsTheLightOut) {
  allowed();
  offer("{torch: true}");
  checks::FrameSink sink = [&](int i, const checks::Frame&) {
    if (i == 2) net::asio::post(bench.io, [&] { bench.daemon->pull(); });
  };
  const auto done = bench.run(bench.page->light_frames(kAsk, 2, 9, std::move(sink)));
  ASSERT_FALSE(done);
  EXPECT_EQ(done.error().code, ErrorCode::link_lost);
  nlohmann::json list;
  for (int i = 0; i < 100 && (list.empty() || list.back() != "stop"); ++i) {
    static_cast<void>(bench.run(net::pause(50ms)));
    list = asked();
  }
  ASSERT_GE(list.size(), 3u) << list;
  EXPECT_EQ(list[list.size() - 2].value("torch", true), false);
  EXPECT_EQ(list.back(), "stop");
}
}  // namespace
}  // namespace hb::standin::test
