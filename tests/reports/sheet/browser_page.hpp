// A sheet in a real, headless Chromium, opened from a file as its owner would.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <optional>
#include <string>

#include "harness/base/encoding.hpp"
#include "tools/standin/browser/devtools.hpp"

namespace hb::sheet {

/// RFC 4648, section 4.
inline std::string bytes_of_base64(std::string text) {
  std::replace(text.begin(), text.end(), '+', '-');
  std::replace(text.begin(), text.end(), '/', '_');
  text.resize(text.find_last_not_of('=') + 1);
  const auto bytes = from_base64url(text);
  if (!bytes) throw std::runtime_error("this is no base64");
  return {reinterpret_cast<const char*>(bytes->data()), bytes->size()};
}

class BrowserPage {
 public:
  explicit BrowserPage(const std::string& program) {
    auto started = standin::Devtools::launch(io_, program, {});
    if (!started) throw std::runtime_error(started.error().message());
    devtools_ = std::move(*started);
    if (auto attached = wait(devtools_->attach()); !attached)
      throw std::runtime_error(attached.error().message());
  }

  nlohmann::json call(const std::string& method, const nlohmann::json& params) {
    auto r = wait(devtools_->call(method, params));
    if (!r) throw std::runtime_error(method + ": " + r.error().message());
    return std::move(*r);
  }
  /// The value of an expression; a promise is waited for.
  nlohmann::json value(const std::string& expression) {
    auto r = call("Runtime.evaluate",
                  {{"expression", expression}, {"awaitPromise", true}, {"returnByValue", true}});
    if (r.contains("exceptionDetails")) throw std::runtime_error(r["exceptionDetails"].dump());
    return r["result"].value("value", nlohmann::json());
  }
  std::string file(const std::string& name, const std::string& bytes) {
    const auto path = folder_.path() / name;
    std::ofstream(path, std::ios::binary) << bytes;
    return path.string();
  }
  /// Opens `html` from a file:// address and waits until it is loaded.
  void open(const std::string& html, const std::string& name = "sheet.html") {
    call("Page.navigate", {{"url", "file://" + file(name, html)}});
    while (value("document.readyState + location.protocol") != "completefile:")
      continue;  // scripts may be off
  }
  /// The class that the script gives the element `id`, once it has one; "hidden" when the script never ran.
  std::string says(const std::string& id) {
    return value(
               "new Promise(done => { let turns = 0; const look = () => { const e = "
               "document.getElementById('" +
               id +
               "'); if (!e) return done('gone'); if (e.className) return done(e.className); "
               "if (document.getElementById('self').hidden && ++turns > 20) return done('hidden'); "
               "setTimeout(look, 10); }; look(); })")
        .get<std::string>();
  }
  std::string text(const std::string& id) {
    return value("document.getElementById('" + id + "').textContent").get<std::string>();
  }
  void type(const std::string& id, const std::string& what) {
    value("(() => { const e = document.getElementById('" + id +
          "'); e.value = " + nlohmann::json(what).dump() + "; document.getElementById('" + id +
          "-says').className = ''; e.dispatchEvent(new Event('input')); })()");
  }
  void choose(const std::string& id, const std::string& path) {
    value("document.getElementById('" + id + "-says').className = ''");
    auto e = call("Runtime.evaluate", {{"expression", "document.getElementById('" + id + "')"}});
    call("DOM.setFileInputFiles", {{"files", {path}}, {"objectId", e["result"]["objectId"]}});
  }
  /// A picture of the whole page, `width` CSS pixels wide.
  void picture(const std::string& to, int width) {
    call("Emulation.setDeviceMetricsOverride",
         {{"width", width}, {"height", 1200}, {"deviceScaleFactor", 1}, {"mobile", false}});
    auto shot = call("Page.captureScreenshot", {{"format", "png"}, {"captureBeyondViewport", true}});
    std::ofstream(to, std::ios::binary) << bytes_of_base64(shot["data"].get<std::string>());
  }

 private:
  template <class T>
  static net::awaitable<void> keep(net::awaitable<T> work, std::optional<T>* into) {
    *into = co_await std::move(work);
  }
  template <class T>
  T wait(net::awaitable<T> work) {
    std::optional<T> result;
    net::co_spawn(io_, keep(std::move(work), &result), [](const std::exception_ptr& e) {
      if (e) std::rethrow_exception(e);
    });
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(60);
    io_.restart();
    while (!result && std::chrono::steady_clock::now() < until)
      if (io_.run_one_until(until) == 0) break;
    if (!result) throw std::runtime_error("the browser did not answer in time");
    return std::move(*result);
  }
  net::io_context io_;
  standin::TempFolder folder_;
  std::unique_ptr<standin::Devtools> devtools_;
};

/// HB_CHROMIUM, or empty.
inline std::string chromium() {
  const char* named = std::getenv("HB_CHROMIUM");
  return named == nullptr ? "" : named;
}
#define NEED_CHROMIUM() \
  if (chromium().empty()) GTEST_SKIP() << "no Chromium on this machine"
}  // namespace hb::sheet
