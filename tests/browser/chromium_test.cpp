// A real Chromium, headless, on the page: link, reverse forward, page script, camera, all but the phone.
#include "checks/cameras/cameras.hpp"
#include "tests/browser/chromium_page.hpp"
#include "tests/page/take.hpp"

namespace hb::standin::test {
namespace {
using checks::Facing;

TEST_F(ChromiumBrowser, FramesOfTheChartArriveWithTheirSizeAndContrast) {
  start();
  const auto opened = bench.run(bench.page->open());
  ASSERT_TRUE(opened) << opened.error().message();
  bench.phone_side.browser->allow();
  const auto n = bench.run(bench.page->cameras(Facing::back));
  ASSERT_TRUE(n) << n.error().message();
  EXPECT_EQ(*n, 1);
  EXPECT_EQ(bench.run(bench.page->cameras(Facing::front)).value_or(-1), 0);
  const auto frames = bench.run(page::test::take(*bench.page, Facing::back, 0, 1280, 960, 2));
  ASSERT_TRUE(frames) << frames.error().message();
  ASSERT_EQ(frames->size(), 2u);
  for (const auto& f : *frames) {
    ASSERT_EQ(f.width, 1280);
    ASSERT_EQ(f.height, 960);
    ASSERT_EQ(f.rgb.size(), 3u * 1280 * 960);
    // The chart's reflectances (optics.hpp); grey keeps 219 levels in the film.
    const double ground = light(f, 0.40, 0.33);
    EXPECT_NEAR(light(f, 0.5, 0.5) / ground, 0.18 / 0.72, 0.015);
    EXPECT_NEAR(light(f, 0.5, 0.17) / ground, 0.02 / 0.72, 0.01);
  }
  EXPECT_LT((*frames)[0].t_ms, (*frames)[1].t_ms);
  ASSERT_TRUE(bench.run(bench.page->close()));
}

// The film is 4:2:0, limited range, and the browser scales nothing: sharpness comes through whole.
TEST_F(ChromiumBrowser, AChartHeldByHandIsMeasuredAsItWasFilmed) {
  lens.pose.yaw_deg = 7, lens.pose.pitch_deg = -6, lens.pose.roll_deg = 8, lens.pose.scale = 0.8;
  lens.corner_px = 0;
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  const auto frames = bench.run(page::test::take(*bench.page, Facing::back, 0, 1280, 960, 2));
  ASSERT_TRUE(frames) << frames.error().message();
  for (const auto& f : *frames) {
    const auto n = checks::Cameras::analyse(f, {});
    ASSERT_EQ(static_cast<int>(n.seen), static_cast<int>(checks::ChartSeen::measured));
    EXPECT_NEAR(n.yaw_deg, 7, 1);
    EXPECT_NEAR(n.pitch_deg, -6, 1);
    EXPECT_NEAR(n.roll_deg, 8, 0.3);
    EXPECT_NEAR(n.scale, 0.8, 0.01);
    for (const double m : n.mtf50_cpp) EXPECT_NEAR(m * lens.blur_px / 0.187390625, 1, 0.04);
  }
}

TEST_F(ChromiumBrowser, TheChartComesIntoViewBetweenTwoTakes) {
  lens.chart_in_view = false;
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  auto frames = bench.run(page::test::take(*bench.page, Facing::back, 0, 1280, 960, 1));
  ASSERT_TRUE(frames) << frames.error().message();
  EXPECT_NEAR(light((*frames)[0], 0.5, 0.5) / light((*frames)[0], 0.4, 0.33), 1, 0.05);
  lens.chart_in_view = true;
  bench.run_until([] { return false; }, 600ms);  // the film is reshot
  frames = bench.run(page::test::take(*bench.page, Facing::back, 0, 1280, 960, 1));
  ASSERT_TRUE(frames) << frames.error().message();
  EXPECT_NEAR(light((*frames)[0], 0.5, 0.5) / light((*frames)[0], 0.4, 0.33), 0.25, 0.02);
}

TEST_F(ChromiumBrowser, NothingIsTakenBeforeStartWasTapped) {
  page::PageOptions o;
  o.person = 1s, o.answer = 500ms;
  start(o);
  ASSERT_TRUE(bench.run(bench.page->open()));
  const auto n = bench.run(bench.page->cameras(Facing::back));
  ASSERT_FALSE(n);
  EXPECT_EQ(n.error().code, ErrorCode::timed_out);
}

TEST_F(ChromiumBrowser, ACameraThatTheBrowserDoesNotHaveIsNotFound) {
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  const auto frames = bench.run(page::test::take(*bench.page, Facing::back, 1, 1280, 960, 1));
  ASSERT_FALSE(frames);
  EXPECT_EQ(frames.error().code, ErrorCode::not_found);
}

TEST_F(ChromiumBrowser, APhoneWithoutAnyCameraCountsNone) {
  lens.present = false;
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  const auto n = bench.run(bench.page->cameras(Facing::back));
  ASSERT_TRUE(n) << n.error().message();
  EXPECT_EQ(*n, 0);
}

TEST_F(ChromiumPage, ARefusedCameraIsRefusedAndCanBeAskedForAgain) {
  open({"--use-fake-device-for-media-stream"});
  shot("ready");
  expect_no_sideways_scrolling();
  std::optional<Result<int>> n;
  net::co_spawn(bench.io, keep(bench.page->cameras(Facing::back), &n), net::detached);
  nlohmann::json denied = nlohmann::json::parse(R"({"permission":{"name":"camera"},"setting":"denied"})");
  ASSERT_TRUE(bench.run(devtools->call("Browser.setPermission", denied)));
  tap_start();
  ASSERT_TRUE(bench.run_until([&] { return n.has_value(); }));
  ASSERT_FALSE(*n);
  EXPECT_EQ(n->error().code, ErrorCode::refused);
  EXPECT_TRUE(shows("was not allowed"));
  shot("refused");
  expect_no_sideways_scrolling();
  const auto again = bench.run(devtools->evaluate("!document.querySelector('#start').disabled"));
  EXPECT_TRUE(again && again->is_boolean() && again->get<bool>());
}

TEST_F(ChromiumPage, SaysWhatItDoesAndThatItHasFinished) {
  open({"--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"}, "dark");
  shot("ready_dark");
  tap_start();
  ASSERT_TRUE(shows("Point the camera at the chart"));
  shot("allowed_dark");
  std::optional<Result<std::vector<checks::Frame>>> frames;
  net::co_spawn(bench.io, keep(page::test::take(*bench.page, Facing::back, 0, 640, 480, 4), &frames),
                net::detached);
  ASSERT_TRUE(shows("Fill this picture with the chart"));
  static_cast<void>(bench.run(net::pause(300ms)));
  shot("taking_dark");
  expect_no_sideways_scrolling();
  ASSERT_TRUE(bench.run_until([&] { return frames.has_value(); }));
  ASSERT_TRUE(*frames) << frames->error().message();
  EXPECT_EQ((*frames)->size(), 4u);
  ASSERT_TRUE(bench.run(bench.page->close()));
  EXPECT_TRUE(shows("Finished. You can close this tab."));
  const auto live = bench.run(devtools->evaluate("document.querySelector('#video').srcObject === null"));
  EXPECT_TRUE(live && live->get<bool>());
  shot("finished_dark");
}
}  // namespace
}  // namespace hb::standin::test
