/// A real Chromium in front of the page, for tests.
/// HB_CHROMIUM names the program; without it every case is skipped and shown as skipped.
/// HB_PAGE_SHOTS names a folder for pictures of the page, for a person to look at.
#pragma once

#include <cstdlib>
#include <fstream>

#include "tests/browser/bench.hpp"

namespace hb::standin::test {

class ChromiumBrowser : public testing::Test {
 protected:
  void SetUp() override {
    const char* named = std::getenv("HB_CHROMIUM");
    program = named == nullptr ? "" : named;
    if (program.empty()) GTEST_SKIP() << "no Chromium on this machine";
  }
  void start(page::PageOptions options = {}) {
    bench.phone_side.browser = Browser::chromium(bench.io, program, [this](bool front, int index) {
      return !front && index == 0 && lens.present ? std::optional<Lens>(lens) : std::nullopt;
    });
    bench.connect(options);
  }
  Bench bench;
  std::string program;
  Lens lens;
};

// The page itself, driven by hand: what a person sees, and what happens when the camera is refused.
class ChromiumPage : public ChromiumBrowser {
 protected:
  net::awaitable<Result<void>> go(std::string url, std::string scheme) {
    auto attached = co_await devtools->attach();
    if (!attached) co_return attached.error();
    nlohmann::json feature, media;
    feature["name"] = "prefers-color-scheme", feature["value"] = std::move(scheme);
    media["features"] = nlohmann::json::array();
    media["features"].push_back(feature);
    auto set = co_await devtools->call("Emulation.setEmulatedMedia", media);
    if (!set) co_return set.error();
    nlohmann::json where;
    where["url"] = std::move(url);
    auto gone = co_await devtools->call("Page.navigate", where);
    if (!gone) co_return gone.error();
    co_return Result<void>{};
  }
  bool shows(const std::string& text) {
    for (int i = 0; i < 200; ++i) {
      const auto seen = bench.run(devtools->evaluate("document.body ? document.body.innerText : ''"));
      if (seen && seen->is_string() && seen->get<std::string>().find(text) != std::string::npos) return true;
      static_cast<void>(bench.run(net::pause(25ms)));
    }
    return false;
  }
  void tap_start() {
    const auto at = bench.run(
        devtools->evaluate("(() => { const r = document.querySelector('#start').getBoundingClientRect();"
                           " return [r.x + r.width / 2, r.y + r.height / 2]; })()"));
    ASSERT_TRUE(at && at->is_array());
    ASSERT_TRUE(bench.run(devtools->tap(at->at(0).get<double>(), at->at(1).get<double>())));
  }
  void shot(const std::string& name) {
    const char* folder = std::getenv("HB_PAGE_SHOTS");
    if (folder == nullptr) return;
    const auto r = bench.run(devtools->call("Page.captureScreenshot", nlohmann::json::object()));
    if (r) std::ofstream(std::filesystem::path(folder) / (name + ".b64")) << r->value("data", "");
  }
  void expect_no_sideways_scrolling() {
    const auto wide = bench.run(devtools->evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth, innerWidth]"));
    ASSERT_TRUE(wide && wide->is_array());
    EXPECT_EQ(wide->at(2), 360);
    EXPECT_LE(wide->at(0).get<int>(), wide->at(1).get<int>());
  }
  // Opens the page in a browser of the test's own.
  void open(std::vector<std::string> flags, const std::string& scheme = "light") {
    bench.connect({});
    std::optional<Result<void>> opened;
    net::co_spawn(bench.io, keep(bench.page->open(), &opened), net::detached);
    ASSERT_TRUE(bench.run_until([&] { return !bench.phone_side.opened.empty(); }));
    auto launched = Devtools::launch(bench.io, program, std::move(flags));
    ASSERT_TRUE(launched) << launched.error().message();
    devtools = std::move(*launched);
    const auto gone = bench.run(go(bench.phone_side.opened.back(), scheme));
    ASSERT_TRUE(gone) << gone.error().message();
    ASSERT_TRUE(bench.run_until([&] { return opened.has_value(); }));
    ASSERT_TRUE(*opened) << opened->error().message();
    ASSERT_TRUE(shows("Ready when you are."));
  }
  std::unique_ptr<Devtools> devtools;
};
}  // namespace hb::standin::test
