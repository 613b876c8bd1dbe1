/// A link and a phone in memory, for tests of the phone page: the test plays the phone's browser on streams.
#pragma once

#include <gtest/gtest.h>

#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "harness/page/page.hpp"

namespace hb::page::test {
using namespace std::chrono_literals;

/// Both ends' view of one stream.
struct Wire {
  explicit Wire(net::io_context& io) : bell(io) {}
  net::asio::steady_timer bell;
  std::deque<Bytes> to_harness;
  std::string from_harness;
  bool browser_closed = false, harness_closed = false, lost = false;
  void send(std::string_view text) {
    to_harness.emplace_back(text.begin(), text.end());
    bell.cancel();
  }
};

class FakeStream final : public link::Stream {
 public:
  explicit FakeStream(std::shared_ptr<Wire> wire) : wire_(std::move(wire)) {}
  ~FakeStream() override { close(); }
  FakeStream(const FakeStream&) = delete;
  FakeStream& operator=(const FakeStream&) = delete;

  net::awaitable<Result<Bytes>> read(net::milliseconds deadline) override {
    const auto wire = wire_;
    const auto until = std::chrono::steady_clock::now() + deadline;
    for (;;) {
      if (wire->lost) co_return Error{ErrorCode::link_lost, "lost", "", ""};
      if (!wire->to_harness.empty()) {
        Bytes b = std::move(wire->to_harness.front());
        wire->to_harness.pop_front();
        co_return b;
      }
      if (wire->browser_closed || wire->harness_closed) co_return Bytes{};
      if (std::chrono::steady_clock::now() >= until) co_return Error{ErrorCode::timed_out, "late", "", ""};
      wire->bell.expires_at(until);
      static_cast<void>(co_await wire->bell.async_wait(net::tuple));
      const auto state = co_await net::asio::this_coro::cancellation_state;
      if (state.cancelled() != net::asio::cancellation_type::none)
        co_return Error{ErrorCode::cancelled, "cancelled", "", ""};
    }
  }
  net::awaitable<Result<void>> write(Bytes data, net::milliseconds) override {
    if (wire_->lost || wire_->harness_closed) co_return Error{ErrorCode::link_lost, "lost", "", ""};
    wire_->from_harness.append(data.begin(), data.end());
    co_return Result<void>{};
  }
  void close() override {
    wire_->harness_closed = true;
    wire_->bell.cancel();
  }

 private:
  std::shared_ptr<Wire> wire_;
};

class FakeLink final : public link::Link {
 public:
  explicit FakeLink(net::io_context& io) : io_(io) {}
  net::io_context& io_;
  std::map<std::string, std::string> banner_;
  Acceptor acceptor;
  std::uint16_t taken_port = 0;  ///< refused when asked for
  std::vector<std::uint16_t> asked, removed;
  bool alive_ = true;
  std::vector<std::shared_ptr<Wire>> wires;

  /// The phone's browser connects.
  std::shared_ptr<Wire> connect() {
    auto wire = std::make_shared<Wire>(io_);
    wires.push_back(wire);
    net::co_spawn(io_, acceptor(std::make_unique<FakeStream>(wire)), net::detached);
    return wire;
  }
  void pull() {
    alive_ = false;
    for (auto& w : wires) w->lost = true, w->bell.cancel();
  }

  const std::map<std::string, std::string>& banner() const override { return banner_; }
  bool has_feature(std::string_view) const override { return true; }
  std::string_view transport_kind() const override { return "tcp"; }
  bool alive() const override { return alive_; }
  net::awaitable<Result<std::unique_ptr<link::Stream>>> open_stream(std::string, net::milliseconds) override {
    co_return Error{ErrorCode::unsupported, "fake", "", ""};
  }
  net::awaitable<Result<link::ShellOutput>> shell(std::string, net::milliseconds, std::size_t) override {
    co_return Error{ErrorCode::unsupported, "fake", "", ""};
  }
  net::awaitable<Result<std::unique_ptr<link::Stream>>> shell_pty(std::string, net::milliseconds) override {
    co_return Error{ErrorCode::unsupported, "fake", "", ""};
  }
  net::awaitable<Result<std::uint16_t>> reverse(std::uint16_t device_port, std::uint16_t,
                                                Acceptor on_connection, net::milliseconds) override {
    asked.push_back(device_port);
    if (device_port != 0 && device_port == taken_port) co_return Error{ErrorCode::refused, "taken", "", ""};
    acceptor = std::move(on_connection);
    co_return device_port == 0 ? std::uint16_t{40001} : device_port;
  }
  net::awaitable<Result<void>> remove_reverse(std::uint16_t device_port, net::milliseconds) override {
    removed.push_back(device_port);
    co_return Result<void>{};
  }
  void close() override { pull(); }
};

/// Only what the page needs; the rest is unsupported.
class FakePhone final : public phone::Phone {
 public:
  explicit FakePhone(net::io_context& io) : link_(std::make_shared<FakeLink>(io)) {}
  std::shared_ptr<FakeLink> link_;
  std::vector<std::string> hosts;  ///< below localhost; of each opening
  /// What the browser puts into Host.
  std::string address(std::uint16_t port) const {
    return hosts.back() + ".localhost:" + std::to_string(port);
  }
  std::function<void(std::uint16_t, std::string)> on_open = [](std::uint16_t, const std::string&) {};

  link::Link& link() override { return *link_; }
  net::awaitable<Result<void>> wake() override { co_return Result<void>{}; }
  net::awaitable<Result<void>> open_page(std::string host, std::uint16_t port, std::string token) override {
    hosts.push_back(std::move(host));
    on_open(port, std::move(token));
    co_return Result<void>{};
  }

  net::awaitable<Result<phone::Identity>> identity(Bytes) override { co_return no(); }
  net::awaitable<Result<bool>> is_model(std::string, std::string) override { co_return no(); }
  net::awaitable<Result<int>> sdk() override { co_return no(); }
  net::awaitable<Result<double>> uptime_s() override { co_return no(); }
  net::awaitable<Result<phone::BatteryReading>> battery() override { co_return no(); }
  net::awaitable<Result<phone::CellReading>> cell(std::string) override { co_return no(); }
  net::awaitable<Result<void>> start_load(int, int) override { co_return no(); }
  net::awaitable<Result<void>> stop_load() override { co_return no(); }
  net::awaitable<Result<phone::SensorReading>> sensor(int) override { co_return no(); }
  net::awaitable<Result<phone::InputDevices>> input_devices() override { co_return no(); }
  net::awaitable<Result<std::unique_ptr<phone::TouchStream>>> touch(int) override { co_return no(); }
  net::awaitable<Result<phone::DeviceState>> device_state() override { co_return no(); }
  net::awaitable<Result<phone::ThermalReading>> thermal() override { co_return no(); }
  net::awaitable<Result<phone::CameraCount>> cameras() override { co_return no(); }
  net::awaitable<Result<phone::DisplaySize>> display_size() override { co_return no(); }

 private:
  static Error no() { return {ErrorCode::unsupported, "fake", "", ""}; }
};

template <class T>
net::awaitable<void> keep(net::awaitable<T> work, std::optional<T>* into) {
  into->emplace(co_await std::move(work));
}

/// Runs the context until `work` has ended; a test that hangs fails instead.
template <class T>
T run(net::io_context& io, net::awaitable<T> work, net::milliseconds limit = 20s) {
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

/// Lets the context run until `done` holds.
template <class F>
bool run_until(net::io_context& io, F done, net::milliseconds limit = 10s) {
  const auto until = std::chrono::steady_clock::now() + limit;
  io.restart();
  while (!done() && std::chrono::steady_clock::now() < until)
    if (io.run_one_until(until) == 0) break;
  return done();
}
}  // namespace hb::page::test
