// The cable is pulled after every possible packet: each call ends with link_lost, none hangs.
#include "support.hpp"

namespace hb::test {
namespace {
using link::Link;
using link::LinkOptions;

struct Progress {
  std::string at = "handshake";
  bool reverse_ended = false;
};

net::awaitable<void> hold_until_end(std::unique_ptr<link::Stream> s, std::shared_ptr<Progress> progress) {
  for (;;) {
    const auto piece = co_await s->read(1h);
    if (!piece || piece->empty()) break;
    const auto wrote = co_await s->write(Bytes(200000, 'x'), 1h);
    if (!wrote) break;
  }
  progress->reverse_ended = true;
}

/// Touches each kind of work once: greeting and authorisation, a command, a stream both ways, a reverse
/// connection.
net::awaitable<Result<void>> whole_run(std::uint16_t port, std::shared_ptr<Progress> progress) {
  auto l = co_await connect(port, LinkOptions{});
  if (!l) co_return l.error();
  progress->at = "shell";
  const auto shell = co_await (*l)->shell("big 70000", 1h);
  if (!shell) co_return shell.error();
  progress->at = "stream";
  const auto s = co_await (*l)->open_stream("sync:", 1h);
  if (!s) co_return s.error();
  for (int i = 0; i < 3; ++i) {
    Bytes stat{'S', 'T', 'A', 'T', 1, 0, 0, 0, '/'};
    const auto wrote = co_await (*s)->write(std::move(stat), 1h);
    if (!wrote) co_return wrote.error();
    const auto answer = co_await (*s)->read(1h);
    if (!answer) co_return answer.error();
  }
  progress->at = "reverse";
  Link::Acceptor hold = [progress](std::unique_ptr<link::Stream> in) {
    return hold_until_end(std::move(in), progress);
  };
  const auto forwarded = co_await (*l)->reverse(0, 41003, std::move(hold), 1h);
  if (!forwarded) co_return forwarded.error();
  net::tcp::socket browser(co_await net::asio::this_coro::executor);
  const net::tcp::endpoint place(net::asio::ip::address_v4::loopback(), *forwarded);
  const auto [refused] = co_await browser.async_connect(place, net::tuple);
  const std::string hello = "hello";
  Bytes buffer(200000);
  const auto [e1, n1] = co_await net::asio::async_write(browser, net::asio::buffer(hello), net::tuple);
  const auto [e2, n2] = co_await net::asio::async_read(browser, net::asio::buffer(buffer), net::tuple);
  progress->at = "last";
  const auto last = co_await (*l)->shell("echo end", 1h);
  if (!last) co_return last.error();
  if (refused || e1 || e2) co_return Error{ErrorCode::io, "the browser's connection failed", "", ""};
  co_return Result<void>{};
}

TEST(CablePulled, AfterAnyPacketEveryCallEndsWithLinkLost) {
  std::set<std::string> interrupted;
  bool succeeded = false;
  for (std::uint64_t n = 1; n < 200 && !succeeded; ++n) {
    net::io_context io;
    FakeServices services;
    const auto daemon = standin::Daemon::listen(io, services, {});
    daemon->pull_after_packets(n, 1h);
    const auto progress = std::make_shared<Progress>();
    const auto r = run(io, whole_run(daemon->port(), progress));
    succeeded = r.has_value();
    if (succeeded) break;
    interrupted.insert(progress->at);
    EXPECT_EQ(r.error().code, ErrorCode::link_lost)
        << "packet " << n << " in " << progress->at << ": " << r.error().message();
  }
  EXPECT_TRUE(succeeded);
  EXPECT_EQ(interrupted, (std::set<std::string>{"handshake", "shell", "stream", "reverse", "last"}));
}

TEST(CablePulled, WhileEveryKindOfCallWaits) {
  net::io_context io;
  FakeServices services;
  const auto daemon = standin::Daemon::listen(io, services, {});
  const auto l = run(io, connect(daemon->port(), LinkOptions{})).value();
  const auto progress = std::make_shared<Progress>();
  const auto port =
      run(io, l->reverse(
                  0, 41004, [progress](auto in) { return hold_until_end(std::move(in), progress); }, 5s));
  ASSERT_TRUE(port);
  net::tcp::socket browser(io);
  browser.connect({net::asio::ip::address_v4::loopback(), *port});
  const auto live = run(io, l->shell_pty("never", 5s)).value();

  std::vector<ErrorCode> ends;
  const auto note = [&ends](auto work) -> net::awaitable<void> {
    const auto r = co_await std::move(work);
    ends.push_back(r ? ErrorCode::internal : r.error().code);
  };
  net::co_spawn(io, note(l->shell("never", 1h, 1000)), net::detached);
  net::co_spawn(io, note(live->read(1h)), net::detached);
  io.restart();
  while (services.running.size() < 2) ASSERT_GT(io.run_one_for(5s), 0u);
  daemon->pull();
  while (ends.size() < 2 || !progress->reverse_ended) ASSERT_GT(io.run_one_for(5s), 0u);
  EXPECT_EQ(ends, (std::vector{ErrorCode::link_lost, ErrorCode::link_lost}));
  EXPECT_FALSE(l->alive());
  EXPECT_EQ(run(io, l->shell("echo x", 1h, 1000)).error().code, ErrorCode::link_lost);
  EXPECT_TRUE(services.running.at(0)->gone());

  EXPECT_EQ(run(io, connect(daemon->port(), LinkOptions{})).error().code, ErrorCode::link_lost)
      << "still out";
  daemon->plug();
  const auto again = run(io, connect(daemon->port(), LinkOptions{}));
  ASSERT_TRUE(again) << again.error().message();
  EXPECT_EQ(run(io, (*again)->shell("echo back", 5s, 1000))->out, "back\n");
}
}  // namespace
}  // namespace hb::test
