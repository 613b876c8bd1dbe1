#include <algorithm>

#include "connection.hpp"

namespace hb::standin {
namespace {
using net::tcp;

class TcpDaemon final : public Daemon {
 public:
  TcpDaemon(net::io_context& io, Services& services, DaemonOptions options)
      : state_(std::make_shared<State>(io, services, std::move(options))) {
    state_->shared->on_packet = [weak = std::weak_ptr<State>(state_)](Connection&) {
      if (const auto s = weak.lock()) count_packet(s);
    };
    net::co_spawn(io, accept(state_), net::detached);
  }
  TcpDaemon(const TcpDaemon&) = delete;
  TcpDaemon& operator=(const TcpDaemon&) = delete;
  ~TcpDaemon() override {
    state_->stopped = true;
    net::error_code ignored;
    state_->acceptor.close(ignored);
    state_->back.cancel();
    state_->drop_all(false);
  }

  std::uint16_t port() const override { return state_->port; }
  void pull() override { state_->pull(); }
  void plug() override { state_->plugged = true; }
  void pull_after_packets(std::uint64_t n, net::milliseconds back_after) override {
    state_->back_after = back_after;
    state_->packets_left = n;
    if (n == 0) pull_and_return(state_);
  }

 private:
  struct State {
    State(net::io_context& io, Services& services, DaemonOptions options)
        : acceptor(io, tcp::endpoint(net::asio::ip::address_v4::loopback(), options.port)),
          port(acceptor.local_endpoint().port()),
          back(io),
          shared(new Shared{io, services, std::move(options), {}, std::mt19937_64{20240229}, {}}) {}
    void drop_all(bool tell) {
      const auto all = std::move(connections);
      connections.clear();
      for (const auto& c : all) c->drop(tell);
    }
    void pull() {
      plugged = false;
      drop_all(true);
    }

    tcp::acceptor acceptor;
    std::uint16_t port;
    net::asio::steady_timer back;
    std::shared_ptr<Shared> shared;
    std::vector<std::shared_ptr<Connection>> connections;
    bool plugged = true, stopped = false;
    std::optional<std::uint64_t> packets_left;
    net::milliseconds back_after{0};
  };

  /// While the cable is out a new connection ends at once; the port stays ours.
  static net::awaitable<void> accept(std::shared_ptr<State> s) {
    while (!s->stopped) {
      auto [ec, socket] = co_await s->acceptor.async_accept(net::tuple);
      if (s->stopped) co_return;
      std::erase_if(s->connections, [](const auto& c) { return c->closed(); });
      if (ec || !s->plugged) continue;
      auto c = std::make_shared<Connection>(std::move(socket), s->shared);
      s->connections.push_back(c);
      c->start();
    }
  }

  static void count_packet(const std::shared_ptr<State>& s) {
    if (s->packets_left && *s->packets_left > 0 && --*s->packets_left == 0) pull_and_return(s);
  }

  static void pull_and_return(const std::shared_ptr<State>& s) {
    s->packets_left.reset();
    s->pull();
    s->back.expires_after(s->back_after);
    s->back.async_wait([s](const net::error_code& ec) {
      if (!ec && !s->stopped) s->plugged = true;
    });
  }

  std::shared_ptr<State> state_;
};
}  // namespace

std::unique_ptr<Daemon> Daemon::listen(net::io_context& io, Services& services, DaemonOptions options) {
  return std::make_unique<TcpDaemon>(io, services, std::move(options));
}
}  // namespace hb::standin
