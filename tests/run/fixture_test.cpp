// A fixture that answers something else than was agreed is named, and never believed.
#include "harness/run/fixture.hpp"

#include <gtest/gtest.h>

namespace hb::run {
namespace {
namespace asio = net::asio;
using net::tcp;

/// Says the given lines to whoever connects, then nothing more.
net::awaitable<void> answer(tcp::acceptor& acceptor, std::string text, tcp::socket& keep) {
  const auto [ec] = co_await acceptor.async_accept(keep, net::tuple);
  if (!ec) static_cast<void>(co_await asio::async_write(keep, asio::buffer(text), net::tuple));
}

struct Heard {
  std::string connected = "yes", begun = "yes", done;
  std::string clock;
};

net::awaitable<void> use(std::uint16_t port, Heard& heard) {
  const auto f = co_await Fixture::connect("127.0.0.1", port);
  if (!f) {
    heard.connected = name(f.error().code);
    co_return;
  }
  heard.clock = (*f)->clock()->kind().str();
  const auto hands = (*f)->op();
  const checks::Action ask = checks::Unfold{};
  const auto begun = co_await hands->begin(ask);
  if (!begun) heard.begun = name(begun.error().code);
  const auto done = co_await hands->done();
  heard.done = done ? (*done ? "done" : "busy") : std::string(name(done.error().code));
}

Heard talk_to(std::string text) {
  net::io_context io;
  tcp::acceptor acceptor(io, tcp::endpoint(asio::ip::address_v4::loopback(), 0));
  tcp::socket fixture(io);
  Heard heard;
  bool ended = false;
  net::co_spawn(io, answer(acceptor, std::move(text), fixture), net::detached);
  net::co_spawn(io, use(acceptor.local_endpoint().port(), heard), [&](std::exception_ptr e) {
    ended = true;
    EXPECT_FALSE(e) << "an exception is no answer";
    io.stop();
  });
  io.run_for(std::chrono::seconds(30));
  EXPECT_TRUE(ended);
  return heard;
}

TEST(FixtureReplies, AreTakenAsAgreedOrRefused) {
  const std::string hello = "{\"ok\":true,\"clock\":\"wall\"}\n", ok = "{\"ok\":true}\n";
  struct Row {
    std::string text, connected, begun, done;
  };
  const Row rows[] = {
      {hello + ok + "{\"ok\":true,\"busy\":true}\n", "yes", "yes", "busy"},
      {hello + ok + ok, "yes", "yes", "done"},
      {hello + "{\"ok\":false}\n" + ok, "yes", "refused", "done"},
      {hello + ok + "{\"ok\":true,\"busy\":\"yes\"}\n", "yes", "yes", "bad format"},
      {hello + ok + "{\"ok\":1}\n", "yes", "yes", "bad format"},
      {"{\"ok\":true,\"clock\":5}\n", "bad format", "yes", ""},
      {"{\"ok\":true,\"clock\":\"rate\",\"rate\":\"fast\"}\n", "bad format", "yes", ""},
      {"hello\n", "bad format", "yes", ""},
      {"[]\n", "bad format", "yes", ""},
  };
  for (const auto& row : rows) {
    const auto heard = talk_to(row.text);
    EXPECT_EQ(heard.connected, row.connected) << row.text;
    EXPECT_EQ(heard.begun, row.begun) << row.text;
    EXPECT_EQ(heard.done, row.done) << row.text;
  }
}
}  // namespace
}  // namespace hb::run
