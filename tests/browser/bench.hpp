/// Harness and stand-in on one io_context, over real sockets: link, reverse forward, page, browser. The phone
/// side knows two commands: open a page, and everything else succeeds silently.
#pragma once

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <functional>
#include <optional>

#include "harness/page/page.hpp"
#include "tools/standin/browser/browser.hpp"
#include "tools/standin/browser/devtools.hpp"
#include "tools/standin/device.hpp"

namespace hb::standin::test {
using namespace std::chrono_literals;

struct PhoneSide final : Services {
  std::unique_ptr<Browser> browser;
  std::vector<std::string> opened;
  std::map<std::string, std::string> banner() const override { return {{"ro.product.device", "petal"}}; }
  void shell(std::string command, bool, std::shared_ptr<Output> output) override {
    const auto at = command.find("http://");
    if (at != std::string::npos) {
      const auto end = command.find_first_of("'\" ", at);
      opened.push_back(command.substr(at, end == std::string::npos ? end : end - at));
      output->out("Starting: Intent { act=android.intent.action.VIEW }\n");
      if (browser) browser->open(opened.back());
    }
    output->exit(0);
  }
  std::optional<std::string> read_file(const std::string&) override { return std::nullopt; }
  bool write_file(const std::string&, std::string) override { return false; }
  void forwards_changed() override {}
};

template <class T>
net::awaitable<void> keep(net::awaitable<T> work, std::optional<T>* into) {
  into->emplace(co_await std::move(work));
}

class Bench {
 public:
  Bench() {
    DaemonOptions o;
    o.ask_for_key = false;
    daemon = Daemon::listen(io, phone_side, o);
  }
  template <class T>
  T run(net::awaitable<T> work, net::milliseconds limit = 60s) {
    std::optional<T> result;
    std::exception_ptr thrown;
    net::co_spawn(io, keep(std::move(work), &result), [&](std::exception_ptr e) { thrown = e; });
    const auto until = std::chrono::steady_clock::now() + limit;
    io.restart();
    while (!result && !thrown && std::chrono::steady_clock::now() < until)
      if (io.run_one_until(until) == 0) break;
    if (thrown) std::rethrow_exception(thrown);
    if (!result) throw std::runtime_error("the coroutine did not end in time");
    return std::move(*result);
  }
  template <class F>
  bool run_until(F done, net::milliseconds limit = 30s) {
    const auto until = std::chrono::steady_clock::now() + limit;
    io.restart();
    while (!done() && std::chrono::steady_clock::now() < until)
      if (io.run_one_until(until) == 0) break;
    return done();
  }
  void connect(page::PageOptions options) {
    auto transport = run(link::connect_tcp("127.0.0.1", daemon->port(), 5s));
    if (!transport) throw std::runtime_error(transport.error().message());
    auto key = link::BenchRsaKey::load_or_make(folder.path() / "bench.pem");
    if (!key) throw std::runtime_error(key.error().message());
    auto opened = run(link::Link::open(std::move(*transport), *key, link::LinkOptions{}));
    if (!opened) throw std::runtime_error(opened.error().message());
    phone = phone::Phone::on(*opened);
    page = page::make_page(*phone, options);
  }
  ~Bench() {
    page.reset();
    if (phone) phone->link().close();
    phone_side.browser.reset();
  }
  Bench(const Bench&) = delete;
  Bench& operator=(const Bench&) = delete;

  net::io_context io;
  TempFolder folder;
  PhoneSide phone_side;
  std::unique_ptr<Daemon> daemon;
  std::unique_ptr<phone::Phone> phone;
  std::unique_ptr<checks::PagePort> page;
};

/// Mean linear green light (sRGB decoding, IEC 61966-2-1) of a square of pixels about a place given as
/// fractions of the frame.
inline double light(const checks::Frame& f, double fx, double fy, int half = 12) {
  const int cx = static_cast<int>(fx * f.width), cy = static_cast<int>(fy * f.height);
  double sum = 0;
  for (int y = cy - half; y < cy + half; ++y)
    for (int x = cx - half; x < cx + half; ++x) {
      const double e = f.rgb[3 * (static_cast<std::size_t>(y) * f.width + x) + 1] / 255.0;
      sum += e <= 0.04045 ? e / 12.92 : std::pow((e + 0.055) / 1.055, 2.4);
    }
  return sum / (4 * half * half);
}
}  // namespace hb::standin::test
