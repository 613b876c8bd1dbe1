/// A bus with a phone on it: the stand-in's daemon on a thread of its own, behind a mock device.
#pragma once

#include <future>
#include <thread>

#include "../support.hpp"
#include "tests/link/usb/mock_bus.hpp"

namespace hb::test {

/// The phone's side of the cable, and everything behind it.
class PhoneThread {
 public:
  explicit PhoneThread(standin::DaemonOptions options = {})
      : daemon_(standin::Daemon::listen(io_, services_, std::move(options))),
        thread_([this] { io_.run(); }) {}
  PhoneThread(const PhoneThread&) = delete;
  PhoneThread& operator=(const PhoneThread&) = delete;
  ~PhoneThread() {
    io_.stop();
    thread_.join();
  }
  [[nodiscard]] std::uint16_t port() const { return daemon_->port(); }
  /// Runs `work` with the services on the phone's thread and waits for it.
  void with(const std::function<void(FakeServices&)>& work) {
    std::promise<void> done;
    net::asio::post(io_, [&] {
      work(services_);
      done.set_value();
    });
    done.get_future().wait();
  }

 private:
  net::io_context io_;
  net::asio::executor_work_guard<net::io_context::executor_type> busy_{io_.get_executor()};
  FakeServices services_;
  std::unique_ptr<standin::Daemon> daemon_;
  std::thread thread_;
};

inline void put32(Bytes& to, std::size_t v) {
  for (int i = 0; i < 4; ++i) to.push_back(static_cast<std::uint8_t>(v >> (8 * i) & 0xff));
}
inline void sync_request(Bytes& to, std::string_view id, std::string_view data) {
  to.insert(to.end(), id.begin(), id.end());
  put32(to, data.size());
  to.insert(to.end(), data.begin(), data.end());
}

/// Sends a file as the sync service takes it (AOSP SYNC.TXT): pieces of at most 64 KiB.
inline net::awaitable<Result<Bytes>> push(std::shared_ptr<link::Link> l, std::string path,
                                          std::string content) {
  const auto s = co_await l->open_stream("sync:", 10s);
  if (!s) co_return s.error();
  Bytes all;
  sync_request(all, "SEND", path + ",33188");
  for (std::size_t at = 0; at < content.size(); at += 65536)
    sync_request(all, "DATA", std::string_view(content).substr(at, 65536));
  all.insert(all.end(), {'D', 'O', 'N', 'E', 0, 0, 0, 0});
  const auto wrote = co_await (*s)->write(std::move(all), 30s);
  if (!wrote) co_return wrote.error();
  co_return co_await (*s)->read(30s);
}

class OnUsb : public testing::Test {
 protected:
  using LinkPtr = std::shared_ptr<link::Link>;
  MockDevice& plug_in(DeviceSpec spec = phone_spec()) { return bus.plug(spec, phone.port()); }
  static net::awaitable<Result<LinkPtr>> connect_to(std::optional<std::string> serial, link::LinkOptions o) {
    auto transport = co_await link::connect_usb(std::move(serial), 10s);
    if (!transport) co_return transport.error();
    co_return co_await link::Link::open(std::move(*transport), bench_key(), std::move(o));
  }
  Result<LinkPtr> open(std::optional<std::string> serial = std::nullopt, link::LinkOptions o = {}) {
    return run(io, connect_to(std::move(serial), std::move(o)));
  }
  Result<link::ShellOutput> shell(link::Link& l, std::string command) {
    return run(io, l.shell(std::move(command), 30s, 4u << 20));
  }

  PhoneThread phone;
  MockBus bus;
  net::io_context io;
};
}  // namespace hb::test
