// Reverse forwards: ports of the phone that lead to the host.
// Source: AOSP packages/modules/adb, adb.cpp handle_forward_request, 2024 state.
#include <fmt/format.h>

#include "connection.hpp"
#include "harness/base/text.hpp"

namespace hb::standin {
using net::tcp;

class Forward : public std::enable_shared_from_this<Forward> {
 public:
  Forward(net::io_context& io, std::uint16_t port, std::string destination)
      : acceptor_(io, tcp::endpoint(net::asio::ip::address_v4::loopback(), port)),
        destination_(std::move(destination)) {}
  [[nodiscard]] std::uint16_t port() const { return acceptor_.local_endpoint().port(); }
  [[nodiscard]] const std::string& destination() const noexcept { return destination_; }
  void close() {
    net::error_code ignored;
    acceptor_.close(ignored);
  }
  static net::awaitable<void> run(std::shared_ptr<Forward> self, std::weak_ptr<Connection> connection) {
    while (self->acceptor_.is_open()) {
      auto [ec, socket] = co_await self->acceptor_.async_accept(net::tuple);
      const auto c = connection.lock();
      if (ec || !c || c->closed()) co_return;
      c->open_to_host(self->destination_, std::move(socket));
    }
  }

 private:
  tcp::acceptor acceptor_;
  std::string destination_;
};

namespace {
constexpr std::size_t kBuffer = 64u << 10;

/// Two loops, each holding the service: socket to stream, and stream to socket. What the host sent before it
/// closed still reaches the socket.
class SocketService final : public Service, public std::enable_shared_from_this<SocketService> {
 public:
  SocketService(std::weak_ptr<DeviceStream> stream, tcp::socket socket)
      : stream_(std::move(stream)),
        socket_(std::move(socket)),
        drained_(socket_.get_executor()),
        arrived_(socket_.get_executor()) {}

  void start() {
    net::co_spawn(socket_.get_executor(), run_up(shared_from_this()), net::detached);
    net::co_spawn(socket_.get_executor(), run_down(shared_from_this()), net::detached);
  }
  void data(Bytes bytes) override {
    down_.push_back(std::move(bytes));
    arrived_.cancel();
  }
  void drained() override { drained_.cancel(); }
  void closed() override {
    closing_ = true;
    arrived_.cancel();
    drained_.cancel();
  }

 private:
  static net::awaitable<void> run_up(std::shared_ptr<SocketService> self) {
    Bytes buffer(kBuffer);
    for (;;) {
      const auto [ec, n] = co_await self->socket_.async_read_some(net::asio::buffer(buffer), net::tuple);
      const auto s = self->stream_.lock();
      if (ec && s && !self->closing_) {
        s->finish();
        self->closed();
      }
      if (ec || !s || s->gone()) co_return;
      s->send(ByteView(buffer).first(n));
      while (!s->empty() && !self->closing_) {
        self->drained_.expires_at(net::asio::steady_timer::time_point::max());
        static_cast<void>(co_await self->drained_.async_wait(net::tuple));
      }
    }
  }

  static net::awaitable<void> run_down(std::shared_ptr<SocketService> self) {
    for (;;) {
      if (self->down_.empty()) {
        if (self->closing_) break;
        self->arrived_.expires_at(net::asio::steady_timer::time_point::max());
        static_cast<void>(co_await self->arrived_.async_wait(net::tuple));
        continue;
      }
      const Bytes piece = std::move(self->down_.front());
      self->down_.pop_front();
      const auto [ec, n] =
          co_await net::asio::async_write(self->socket_, net::asio::buffer(piece), net::tuple);
      if (ec) break;
      if (const auto s = self->stream_.lock()) s->consumed(piece.size());
    }
    net::error_code ignored;
    self->socket_.shutdown(tcp::socket::shutdown_both, ignored);
    self->socket_.close(ignored);
  }

  std::weak_ptr<DeviceStream> stream_;
  tcp::socket socket_;
  net::asio::steady_timer drained_, arrived_;
  std::deque<Bytes> down_;
  bool closing_ = false;
};

std::string counted(std::string_view text) { return fmt::format("{:04x}{}", text.size(), text); }
std::string failure(std::string_view why) { return "FAIL" + counted(why); }

std::optional<std::uint16_t> tcp_port(std::string_view spec) {
  if (!spec.starts_with("tcp:")) return std::nullopt;
  const auto n = to_int(spec.substr(4));
  if (!n || *n < 0 || *n > 65535) return std::nullopt;
  return static_cast<std::uint16_t>(*n);
}
}  // namespace

void serve_socket(const std::shared_ptr<DeviceStream>& stream, tcp::socket socket) {
  const auto service = std::make_shared<SocketService>(stream, std::move(socket));
  stream->serve(service);
  service->start();
}

void Connection::open_to_host(const std::string& destination, tcp::socket socket) {
  const auto s = make_stream(0);
  const auto local = last_id_;
  serve_socket(s, std::move(socket));
  Bytes name(destination.begin(), destination.end());
  name.push_back(0);
  send(link::kOpen, local, delayed_ack_ ? kWindow : 0, std::move(name));
}

std::string Connection::add_forward(std::string_view spec) {
  const bool keep_old = spec.starts_with("norebind:");
  if (keep_old) spec.remove_prefix(9);
  const auto parts = split(spec, ';');
  if (parts.size() != 2 || parts[0].empty() || parts[1].empty() || parts[1].front() == '*')
    return failure("bad forward: " + std::string(spec));
  const auto port = tcp_port(parts[0]);
  if (!port) return failure("only tcp ports can be forwarded here");
  if (const auto old = forwards_.find(*port); old != forwards_.end()) {
    if (keep_old) return failure("cannot rebind existing socket");
    old->second->close();
    forwards_.erase(old);
  }
  try {
    const auto f = std::make_shared<Forward>(shared_->io, *port, std::string(parts[1]));
    const auto bound = f->port();
    forwards_.emplace(bound, f);
    net::co_spawn(shared_->io, Forward::run(f, weak_from_this()), net::detached);
    shared_->services.forwards_changed();
    return *port == 0 ? "OKAY" + counted(std::to_string(bound)) : "OKAY";
  } catch (const boost::system::system_error& e) {
    return failure("cannot bind listener: " + e.code().message());
  }
}

std::string Connection::reverse(std::string_view request) {
  if (request.starts_with("forward:")) return add_forward(request.substr(8));
  if (request == "list-forward") {
    std::string all;
    for (const auto& [port, f] : forwards_) all += fmt::format("host tcp:{} {}\n", port, f->destination());
    return counted(all);
  }
  const bool all = request == "killforward-all";
  if (!all && !request.starts_with("killforward:")) return failure("unknown request");
  if (!all) {
    const auto port = tcp_port(request.substr(12));
    const auto at = port ? forwards_.find(*port) : forwards_.end();
    if (at == forwards_.end()) return failure("listener not found");
    at->second->close();
    forwards_.erase(at);
  }
  if (all) {
    for (const auto& [port, f] : forwards_) f->close();
    forwards_.clear();
  }
  shared_->services.forwards_changed();
  return "OKAY";
}

void Connection::close_forwards(bool tell) {
  const bool had = !forwards_.empty();
  for (const auto& [port, f] : forwards_) f->close();
  forwards_.clear();
  if (tell && had) shared_->services.forwards_changed();
}
}  // namespace hb::standin
