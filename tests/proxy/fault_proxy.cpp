#include "tests/proxy/fault_proxy.hpp"

#include <algorithm>
#include <random>
#include <vector>

#include "harness/link/packet.hpp"

namespace hb::test {
namespace {
using net::tcp;
constexpr std::uint64_t kCutGap = 160;  ///< packets between the cuts of cut_often
constexpr std::size_t kAbsurd = 32u << 20;

struct State {
  State(net::io_context& context, std::uint16_t port, HarmPlan p)
      : io(context),
        acceptor(context, tcp::endpoint(net::asio::ip::address_v4::loopback(), 0)),
        phone_port(port),
        plan(p),
        random(p.seed) {}
  std::uint64_t below(std::uint64_t n) { return random() % n; }

  net::io_context& io;
  tcp::acceptor acceptor;
  std::uint16_t phone_port;
  HarmPlan plan;
  std::mt19937_64 random;
  std::uint64_t packets[2] = {0, 0};  ///< to the phone, to the bench
  std::uint64_t harmed = 0;
  bool stopped = false;
};
using StatePtr = std::shared_ptr<State>;

struct Pair {
  explicit Pair(net::io_context& io) : bench(io), phone(io) {}
  void end() {
    net::error_code ignored;
    bench.close(ignored);
    phone.close(ignored);
  }
  tcp::socket bench, phone;
  bool silent = false;
};
using PairPtr = std::shared_ptr<Pair>;

net::awaitable<bool> put(tcp::socket& to, Bytes bytes) {
  const auto [ec, n] = co_await net::asio::async_write(to, net::asio::buffer(bytes), net::tuple);
  co_return !ec;
}

/// Pieces of any size. A large packet is cut into large ones too, or its relay would take minutes.
net::awaitable<bool> put_in_pieces(StatePtr s, tcp::socket& to, Bytes bytes) {
  for (std::size_t at = 0; at < bytes.size();) {
    const std::size_t most = s->below(3) == 0 ? 4 : 1 + bytes.size() / 6;
    const auto n = std::min<std::size_t>(1 + s->below(most), bytes.size() - at);
    const auto [ec, done] =
        co_await net::asio::async_write(to, net::asio::buffer(bytes.data() + at, n), net::tuple);
    if (ec) co_return false;
    at += n;
    co_await net::asio::post(s->io, net::asio::use_awaitable);  // the other end reads in between
  }
  co_return true;
}

/// Relays one packet, harmed or not; false when the connection is over.
net::awaitable<bool> pass_on(StatePtr s, PairPtr pair, bool to_bench, Bytes packet) {
  auto& to = to_bench ? pair->bench : pair->phone;
  const auto number = ++s->packets[to_bench ? 1 : 0];
  const auto& p = s->plan;
  const bool mine = p.to_bench == to_bench;
  const bool now = mine && number == p.at_packet;
  if (pair->silent) co_return true;
  if (p.harm == Harm::split) {
    ++s->harmed;
    co_return co_await put_in_pieces(s, to, std::move(packet));
  }
  if (p.harm == Harm::delay && mine && (now || s->below(40) == 0)) {
    ++s->harmed;
    const auto waited = co_await net::pause(net::milliseconds(now ? 1500 : 1 + s->below(40)));
    if (!waited) co_return false;
  }
  const bool again = p.harm == Harm::cut_often && mine && number > p.at_packet &&
                     (number - p.at_packet) % kCutGap == 0 && s->harmed < 4;
  if (!now && !again) co_return co_await put(to, std::move(packet));
  if (p.harm != Harm::none && p.harm != Harm::delay) ++s->harmed;
  switch (p.harm) {
    case Harm::drop:
      co_return true;
    case Harm::repeat:
      if (const bool first = co_await put(to, packet); !first) co_return false;
      break;
    case Harm::corrupt:
      packet[s->below(packet.size())] ^= static_cast<std::uint8_t>(1u << s->below(8));
      break;
    case Harm::lose_bytes: {
      const auto from = s->below(packet.size());
      const auto n = 1 + s->below(std::min<std::uint64_t>(packet.size() - from, 64));
      const auto begin = packet.begin() + static_cast<std::ptrdiff_t>(from);
      packet.erase(begin, begin + static_cast<std::ptrdiff_t>(n));
      break;
    }
    case Harm::cut:
    case Harm::cut_often:
    case Harm::gone:
      packet.resize(s->below(packet.size()));
      static_cast<void>(co_await put(to, std::move(packet)));
      if (p.harm == Harm::gone) s->stopped = true;
      co_return false;
    case Harm::silent:
      pair->silent = true;
      co_return true;
    case Harm::none:
    case Harm::split:
    case Harm::delay:
      break;
  }
  co_return co_await put(to, std::move(packet));
}

/// Takes whole packets off one direction until either end goes.
net::awaitable<void> relay(StatePtr s, PairPtr pair, bool to_bench) {
  auto& from = to_bench ? pair->phone : pair->bench;
  Bytes chunk(64u << 10), held;
  for (bool going = true; going;) {
    const auto [ec, n] = co_await from.async_read_some(net::asio::buffer(chunk), net::tuple);
    if (ec) break;
    held.insert(held.end(), chunk.begin(), chunk.begin() + static_cast<std::ptrdiff_t>(n));
    while (going && held.size() >= link::kHeaderSize) {
      std::size_t length = 0;
      for (std::size_t i = 0; i < 4; ++i) length |= std::size_t{held[12 + i]} << (8 * i);
      length = std::min(length, kAbsurd);
      if (held.size() < link::kHeaderSize + length) break;
      const auto end = held.begin() + static_cast<std::ptrdiff_t>(link::kHeaderSize + length);
      Bytes packet(held.begin(), end);
      held.erase(held.begin(), end);
      going = co_await pass_on(s, pair, to_bench, std::move(packet));
    }
  }
  pair->end();
}

net::awaitable<void> accept(StatePtr s) {
  for (;;) {
    const auto pair = std::make_shared<Pair>(s->io);
    const auto [ec] = co_await s->acceptor.async_accept(pair->bench, net::tuple);
    if (ec == net::asio::error::operation_aborted || !s->acceptor.is_open()) co_return;
    if (ec || s->stopped) continue;
    const tcp::endpoint place(net::asio::ip::address_v4::loopback(), s->phone_port);
    const auto [refused] = co_await pair->phone.async_connect(place, net::tuple);
    if (refused) continue;
    net::error_code ignored;
    pair->bench.set_option(tcp::no_delay(true), ignored);
    pair->phone.set_option(tcp::no_delay(true), ignored);
    net::co_spawn(s->io, relay(s, pair, true), net::detached);
    net::co_spawn(s->io, relay(s, pair, false), net::detached);
  }
}

class Proxy final : public FaultProxy {
 public:
  explicit Proxy(StatePtr s) : s_(std::move(s)) {}
  Proxy(const Proxy&) = delete;
  Proxy& operator=(const Proxy&) = delete;
  ~Proxy() override {
    net::error_code ignored;
    s_->acceptor.close(ignored);
  }
  std::uint16_t port() const override { return s_->acceptor.local_endpoint().port(); }
  std::uint64_t harmed() const override { return s_->harmed; }

 private:
  StatePtr s_;
};
}  // namespace

std::string_view name(Harm harm) noexcept {
  static constexpr std::string_view names[] = {"none",       "split",  "delay",   "drop",
                                               "lose_bytes", "repeat", "corrupt", "cut",
                                               "cut_often",  "gone",   "silent"};
  return names[static_cast<std::size_t>(harm)];
}

std::unique_ptr<FaultProxy> FaultProxy::listen(net::io_context& io, std::uint16_t phone_port, HarmPlan plan) {
  auto s = std::make_shared<State>(io, phone_port, plan);
  net::co_spawn(io, accept(s), net::detached);
  return std::make_unique<Proxy>(std::move(s));
}
}  // namespace hb::test
