// The bad cable itself: what it does to the bytes is what its plan says.
#include <gtest/gtest.h>

#include "harness/link/packet.hpp"
#include "tests/proxy/fault_proxy.hpp"

namespace hb::test {
namespace {
using net::tcp;

/// What arrives at the phone when the bench writes ten packets and closes.
Bytes through(Harm harm) {
  net::io_context io;
  tcp::acceptor phone(io, tcp::endpoint(net::asio::ip::address_v4::loopback(), 0));
  HarmPlan plan;
  plan.harm = harm;
  plan.to_bench = false;
  plan.at_packet = 4;
  const auto proxy = FaultProxy::listen(io, phone.local_endpoint().port(), plan);
  Bytes got;
  const auto receive = [](tcp::acceptor& a, Bytes& into) -> net::awaitable<void> {
    auto [ec, socket] = co_await a.async_accept(net::tuple);
    Bytes chunk(4096);
    while (!ec) {
      const auto [end, n] = co_await socket.async_read_some(net::asio::buffer(chunk), net::tuple);
      if (end) break;
      into.insert(into.end(), chunk.begin(), chunk.begin() + static_cast<std::ptrdiff_t>(n));
    }
  };
  net::co_spawn(io, receive(phone, got), net::detached);
  tcp::socket bench(io);
  bench.connect({net::asio::ip::address_v4::loopback(), proxy->port()});
  for (std::uint8_t i = 0; i < 10; ++i) {
    link::Packet p;
    p.command = link::kWrte;
    p.payload.assign(100, i);
    Bytes bytes = link::encode_header(p, link::kVersionSkipChecksum);
    bytes.insert(bytes.end(), p.payload.begin(), p.payload.end());
    net::asio::write(bench, net::asio::buffer(bytes));
  }
  io.run_for(std::chrono::milliseconds(harm == Harm::delay ? 1900 : 150));
  return got;
}

TEST(FaultProxy, DoesWhatItsPlanSays) {
  constexpr std::size_t packet = 124;
  const Bytes whole = through(Harm::none);
  ASSERT_EQ(whole.size(), 10 * packet);
  EXPECT_EQ(through(Harm::split), whole);
  EXPECT_EQ(through(Harm::delay), whole);
  const Bytes dropped = through(Harm::drop);
  ASSERT_EQ(dropped.size(), 9 * packet);
  EXPECT_EQ(dropped[3 * packet + link::kHeaderSize], 4) << "the fourth is missing";
  const Bytes repeated = through(Harm::repeat);
  ASSERT_EQ(repeated.size(), 11 * packet);
  EXPECT_EQ(repeated[4 * packet + link::kHeaderSize], 3);
  const Bytes corrupt = through(Harm::corrupt);
  ASSERT_EQ(corrupt.size(), whole.size());
  int bits = 0;
  for (std::size_t i = 0; i < whole.size(); ++i) bits += __builtin_popcount(whole[i] ^ corrupt[i]);
  EXPECT_EQ(bits, 1);
  const auto lost = through(Harm::lose_bytes).size();
  EXPECT_TRUE(lost < whole.size() && lost > 9 * packet - 64) << lost;
  for (const Harm h : {Harm::cut, Harm::gone}) {
    const auto n = through(h).size();
    EXPECT_TRUE(n >= 3 * packet && n < 4 * packet) << n;
  }
  EXPECT_EQ(through(Harm::silent).size(), 3 * packet);
}
}  // namespace
}  // namespace hb::test
