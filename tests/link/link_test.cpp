// The link against the stand-in's daemon over real sockets.
#include "support.hpp"

namespace hb::test {
namespace {
using link::Link;
using link::LinkOptions;
using link::Stream;

class LinkToDaemon : public testing::Test {
 protected:
  void plug_in(standin::DaemonOptions o = {}) {
    daemon = standin::Daemon::listen(io, services, std::move(o));
  }
  Result<std::shared_ptr<Link>> open(LinkOptions o = {}) {
    return run(io, connect(daemon->port(), std::move(o)));
  }
  Result<link::ShellOutput> shell(Link& l, std::string command) {
    return run(io, l.shell(std::move(command), 10s, 4u << 20));
  }

  net::io_context io;
  FakeServices services;
  std::unique_ptr<standin::Daemon> daemon;
};

TEST_F(LinkToDaemon, FirstTimeTheOwnerIsAskedAndAfterwardsTheKeyIsKnown) {
  plug_in();
  int asked = 0;
  LinkOptions o;
  o.on_waiting_for_owner = [&] { ++asked; };
  for (int round = 0; round < 2; ++round) {
    const auto l = open(o);
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(asked, 1) << "round " << round;
    EXPECT_EQ((*l)->banner().at("ro.product.model"), "VM-P2");
    EXPECT_TRUE((*l)->has_feature("shell_v2"));
    EXPECT_FALSE((*l)->has_feature("stat_v2")) << "only what both ends list is in force";
    EXPECT_EQ((*l)->transport_kind(), "tcp");
  }
}

TEST_F(LinkToDaemon, OwnerWhoNeverTapsAllowIsUnauthorised) {
  standin::DaemonOptions d;
  d.accept_keys = false;
  plug_in(d);
  LinkOptions o;
  o.authorise = 50ms;
  const auto l = open(o);
  ASSERT_FALSE(l);
  EXPECT_EQ(l.error().code, ErrorCode::unauthorised) << l.error().message();
}

TEST_F(LinkToDaemon, OwnerWhoThinksLongerThanTheHandshakeIsWaitedFor) {
  standin::DaemonOptions d;
  d.dialog = 300ms;
  plug_in(d);
  LinkOptions o;
  o.handshake = 200ms;
  EXPECT_TRUE(open(o));
}

struct Flavour {
  const char* name;
  std::uint32_t version, phone_payload, bench_payload;
  bool phone_delays, bench_delays;
};
const Flavour kFlavours[] = {
    {"new phone", 0x01000001, 1u << 20, 1u << 20, false, false},
    {"checksums and 4 KiB packets", 0x01000000, 4096, 1u << 20, false, false},
    {"delayed acknowledgement", 0x01000001, 1u << 20, 1u << 20, true, true},
    {"delayed acknowledgement in small packets", 0x01000001, 256u << 10, 8192, true, true},
    {"delayed acknowledgement of the phone only", 0x01000001, 1u << 20, 1u << 20, true, false},
};
class EveryFlavour : public LinkToDaemon, public testing::WithParamInterface<Flavour> {
 protected:
  std::shared_ptr<Link> plugged() {
    const auto& f = GetParam();
    standin::DaemonOptions d;
    d.version = f.version;
    d.max_payload = f.phone_payload;
    d.delayed_ack = f.phone_delays;
    d.ask_for_key = false;
    plug_in(d);
    LinkOptions o;
    o.max_payload = f.bench_payload;
    o.delayed_ack = f.bench_delays;
    auto l = open(o);
    EXPECT_EQ(l.value()->has_feature("delayed_ack"), f.phone_delays && f.bench_delays);
    return l.value();
  }
};
INSTANTIATE_TEST_SUITE_P(Link, EveryFlavour, testing::ValuesIn(kFlavours), [](const auto& i) {
  std::string n = i.param.name;
  std::replace(n.begin(), n.end(), ' ', '_');
  return n;
});

TEST_P(EveryFlavour, CommandsGiveTextAndExitCode) {
  const auto l = plugged();
  const auto both = shell(*l, "both");
  ASSERT_TRUE(both) << both.error().message();
  EXPECT_EQ(both->out, "to out\n");
  EXPECT_EQ(both->err, "to err\n");
  EXPECT_EQ(both->exit_code, 0);
  EXPECT_EQ(shell(*l, "exit 137")->exit_code, 137);
  const auto big = shell(*l, "big 1048576");
  ASSERT_TRUE(big) << big.error().message();
  EXPECT_TRUE(big->out == pattern(1048576));
}

Bytes record(std::string_view id, std::uint32_t n) {
  Bytes b(id.begin(), id.end());
  for (int s = 0; s < 32; s += 8) b.push_back(static_cast<std::uint8_t>(n >> s & 0xff));
  return b;
}
void append(Bytes& to, ByteView more) { to.insert(to.end(), more.begin(), more.end()); }

net::awaitable<Result<std::string>> read_exactly(Stream& s, std::size_t n) {
  std::string all;
  while (all.size() < n) {
    const auto piece = co_await s.read(10s);
    if (!piece) co_return piece.error();
    if (piece->empty()) break;
    all += as_text(*piece);
  }
  co_return all;
}

net::awaitable<Result<std::string>> there_and_back(Link& l, std::string content) {
  const auto opened = co_await l.open_stream("sync:", 5s);
  if (!opened) co_return opened.error();
  Stream& s = **opened;
  const std::string_view path = "/data/local/tmp/x,33188";
  Bytes request = record("SEND", static_cast<std::uint32_t>(path.size()));
  append(request, as_bytes(path));
  for (std::size_t at = 0; at < content.size(); at += 65536) {
    const auto piece = std::string_view(content).substr(at, 65536);
    append(request, record("DATA", static_cast<std::uint32_t>(piece.size())));
    append(request, as_bytes(piece));
  }
  append(request, record("DONE", 1));
  const auto wrote = co_await s.write(std::move(request), 20s);
  if (!wrote) co_return wrote.error();
  const auto okay = co_await read_exactly(s, 8);
  if (!okay) co_return okay.error();
  if (!okay->starts_with("OKAY")) co_return Error{ErrorCode::refused, "not stored", "", ""};
  Bytes fetch = record("RECV", static_cast<std::uint32_t>(path.size() - 6));
  append(fetch, as_bytes(path.substr(0, path.size() - 6)));
  const auto asked = co_await s.write(std::move(fetch), 5s);
  if (!asked) co_return asked.error();
  const auto pieces = (content.size() + 65535) / 65536;
  co_return co_await read_exactly(s, content.size() + 8 * pieces + 8);
}

TEST_P(EveryFlavour, OneMebibyteThroughOneStreamBothWays) {
  const auto l = plugged();
  const auto content = pattern(1u << 20);
  const auto back = run(io, there_and_back(*l, content));
  ASSERT_TRUE(back) << back.error().message();
  EXPECT_TRUE(services.files.at("/data/local/tmp/x") == content);
  std::string stripped;
  for (std::size_t at = 0; at + 8 <= back->size(); at += 8 + 65536) stripped += back->substr(at + 8, 65536);
  EXPECT_TRUE(stripped == content);
}

net::awaitable<void> echo_until_end(std::unique_ptr<Stream> s) {
  for (;;) {
    auto piece = co_await s->read(20s);
    if (!piece || piece->empty()) co_return;
    const auto wrote = co_await s->write(std::move(*piece), 20s);
    if (!wrote) co_return;
  }
}

/// The phone's browser: sends all, reads as much back.
net::awaitable<Result<std::string>> phone_side(std::uint16_t port, std::string content) {
  net::tcp::socket socket(co_await net::asio::this_coro::executor);
  const net::tcp::endpoint place(net::asio::ip::address_v4::loopback(), port);
  const auto [refused] = co_await socket.async_connect(place, net::tuple);
  if (refused) co_return Error{ErrorCode::io, refused.message(), "", ""};
  std::string back;
  const auto send = [](net::tcp::socket& s, std::string all) -> net::awaitable<void> {
    static_cast<void>(co_await net::asio::async_write(s, net::asio::buffer(all), net::tuple));
  };
  net::co_spawn(socket.get_executor(), send(socket, content), net::detached);
  std::string buffer(65536, '\0');
  while (back.size() < content.size()) {
    const auto [ec, n] = co_await socket.async_read_some(net::asio::buffer(buffer), net::tuple);
    if (ec) break;
    back.append(buffer, 0, n);
  }
  co_return back;
}

TEST_P(EveryFlavour, PhoneReachesTheBenchThroughAReverseForward) {
  const auto l = plugged();
  const auto port = run(io, l->reverse(0, 41001, echo_until_end, 5s));
  ASSERT_TRUE(port) << port.error().message();
  EXPECT_EQ(services.changes, 1);
  const auto content = pattern(1u << 20);
  const auto back = run(io, phone_side(*port, content));
  ASSERT_TRUE(back) << back.error().message();
  EXPECT_TRUE(*back == content);
  ASSERT_TRUE(run(io, l->remove_reverse(*port, 5s)));
  EXPECT_FALSE(run(io, phone_side(*port, "x"))) << "nothing listens any more";
  EXPECT_EQ(run(io, l->remove_reverse(*port, 5s)).error().code, ErrorCode::not_found);
}

TEST_F(LinkToDaemon, ForwardThatStandsAlreadyIsRefusedHere) {
  standin::DaemonOptions d;
  d.ask_for_key = false;
  plug_in(d);
  const auto l = open().value();
  ASSERT_TRUE(run(io, l->reverse(0, 41002, echo_until_end, 5s)));
  EXPECT_EQ(run(io, l->reverse(0, 41002, echo_until_end, 5s)).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(run(io, l->reverse(0, 0, echo_until_end, 5s)).error().code, ErrorCode::invalid_argument);
}

TEST_F(LinkToDaemon, LiveOutputComesAsItIsPrintedAndEndsWithTheCommand) {
  standin::DaemonOptions d;
  d.ask_for_key = false;
  plug_in(d);
  const auto l = open().value();
  const auto s = run(io, l->shell_pty("never", 5s));
  ASSERT_TRUE(s);
  EXPECT_TRUE(services.last_pty);
  EXPECT_EQ(run(io, (*s)->read(30ms)).error().code, ErrorCode::timed_out) << "nothing printed yet";
  services.running.at(0)->out("one\n");
  EXPECT_EQ(as_text(run(io, (*s)->read(5s)).value()), "one\r\n");
  services.running.at(0)->exit(0);
  EXPECT_TRUE(run(io, (*s)->read(5s)).value().empty());
}

TEST_F(LinkToDaemon, ClosedStreamTellsThePhoneThatNobodyListens) {
  standin::DaemonOptions d;
  d.ask_for_key = false;
  plug_in(d);
  const auto l = open().value();
  {
    const auto s = run(io, l->shell_pty("never", 5s));
    ASSERT_TRUE(s);
    EXPECT_FALSE(services.running.at(0)->gone());
  }
  ASSERT_TRUE(shell(*l, "echo later"));  // packets are in order: the close came before
  EXPECT_TRUE(services.running.at(0)->gone());
}

TEST_F(LinkToDaemon, OldPhoneWithoutShellProtocolGivesTextWithoutExitCode) {
  standin::DaemonOptions d;
  d.ask_for_key = false;
  d.features = "cmd";
  plug_in(d);
  const auto l = open().value();
  const auto r = shell(*l, "both");
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(r->out, "to out\nto err\n");
  EXPECT_EQ(r->exit_code, -1);
  EXPECT_EQ(run(io, l->shell_pty("echo", 5s)).error().code, ErrorCode::unsupported);
}

TEST_F(LinkToDaemon, LimitsAreKept) {
  standin::DaemonOptions d;
  d.ask_for_key = false;
  plug_in(d);
  LinkOptions o;
  o.max_streams = 1;
  const auto l = open(o).value();
  EXPECT_EQ(run(io, l->shell("big 5000", 5s, 4999)).error().code, ErrorCode::bad_format);
  EXPECT_EQ(run(io, l->shell("never", 30ms, 4999)).error().code, ErrorCode::timed_out);
  EXPECT_EQ(run(io, l->open_stream("track-something:", 5s)).error().code, ErrorCode::refused);
  EXPECT_EQ(run(io, l->open_stream(std::string("a\0b", 3), 5s)).error().code, ErrorCode::invalid_argument);
  const auto held = run(io, l->open_stream("shell:never", 5s));
  ASSERT_TRUE(held);
  EXPECT_EQ(run(io, l->open_stream("shell:never", 5s)).error().code, ErrorCode::refused)
      << "one is the limit";
}

TEST_F(LinkToDaemon, CancelledCallReturnsAndTheLinkLivesOn) {
  standin::DaemonOptions d;
  d.ask_for_key = false;
  plug_in(d);
  const auto l = open().value();
  net::asio::cancellation_signal stop;
  std::optional<Result<link::ShellOutput>> got;
  const auto call = [](std::shared_ptr<Link> on,
                       std::optional<Result<link::ShellOutput>>* into) -> net::awaitable<void> {
    into->emplace(co_await on->shell("never", 1h, 1000));
  };
  net::co_spawn(io, call(l, &got), net::asio::bind_cancellation_slot(stop.slot(), net::detached));
  io.restart();
  while (services.running.empty()) io.run_one_for(5s);
  stop.emit(net::asio::cancellation_type::terminal);
  while (!got) ASSERT_GT(io.run_one_for(5s), 0u);
  ASSERT_FALSE(*got);
  EXPECT_EQ(got->error().code, ErrorCode::cancelled);
  EXPECT_EQ(shell(*l, "echo still here")->out, "still here\n");
  EXPECT_TRUE(services.running.at(0)->gone());
}

TEST_F(LinkToDaemon, LastHandleGoneEndsStreamsAndConnection) {
  standin::DaemonOptions d;
  d.ask_for_key = false;
  plug_in(d);
  auto l = open().value();
  auto held = run(io, l->open_stream("shell:never", 5s)).value();
  l.reset();
  EXPECT_EQ(run(io, held->read(5s)).error().code, ErrorCode::link_lost);
  EXPECT_EQ(run(io, held->write(Bytes{1}, 5s)).error().code, ErrorCode::link_lost);
  while (!services.running.at(0)->gone()) ASSERT_GT(io.run_one_for(5s), 0u);
}

TEST(ConnectTcp, NobodyThereSaysSoAtOnce) {
  net::io_context io;
  net::tcp::acceptor taken(io, net::tcp::endpoint(net::asio::ip::address_v4::loopback(), 0));
  const auto port = taken.local_endpoint().port();
  taken.close();
  EXPECT_EQ(run(io, link::connect_tcp("127.0.0.1", port, 5s)).error().code, ErrorCode::not_found);
}

TEST(ConnectTcp, SilentPeerRunsIntoTheHandshakeDeadline) {
  net::io_context io;
  net::tcp::acceptor silent(io, net::tcp::endpoint(net::asio::ip::address_v4::loopback(), 0));
  LinkOptions o;
  o.handshake = 50ms;
  const auto l = run(io, connect(silent.local_endpoint().port(), o));
  ASSERT_FALSE(l);
  EXPECT_EQ(l.error().code, ErrorCode::timed_out);
}
}  // namespace
}  // namespace hb::test
