/// The stand-in's daemon on a thread of its own, and what a bench does with it through a link.
#pragma once

#include <future>
#include <thread>

#include "../support.hpp"

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

/// A stream's bytes until the phone ends it.
inline net::awaitable<Result<Bytes>> read_to_end(std::shared_ptr<link::Link> l, std::string service) {
  const auto s = co_await l->open_stream(std::move(service), 10s);
  if (!s) co_return s.error();
  Bytes all;
  for (;;) {
    const auto piece = co_await (*s)->read(10s);
    if (!piece) co_return piece.error();
    if (piece->empty()) co_return all;
    all.insert(all.end(), piece->begin(), piece->end());
  }
}

/// Writes each of `sizes` as one packet to a stream that the phone opened.
inline net::awaitable<void> write_each(std::unique_ptr<link::Stream> s, std::vector<std::size_t> sizes) {
  for (const auto n : sizes) {
    const auto text = pattern(n);
    const auto wrote = co_await s->write(Bytes(text.begin(), text.end()), 10s);
    EXPECT_TRUE(wrote) << n;
  }
}

/// A program on the phone that connects to `port` and reads until the far end closes.
inline net::awaitable<Bytes> read_on_phone(std::uint16_t port) {
  net::tcp::socket s(co_await net::asio::this_coro::executor);
  co_await s.async_connect({net::asio::ip::address_v4::loopback(), port}, net::asio::use_awaitable);
  Bytes all, piece(65536);
  for (;;) {
    const auto [ec, n] = co_await s.async_read_some(net::asio::buffer(piece), net::tuple);
    if (ec) co_return all;
    all.insert(all.end(), piece.begin(), piece.begin() + static_cast<std::ptrdiff_t>(n));
  }
}

}  // namespace hb::test
