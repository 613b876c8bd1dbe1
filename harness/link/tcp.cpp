#include "harness/link/detail/signal.hpp"
#include "harness/link/link.hpp"

namespace hb::link {
namespace {
using net::tcp;

Error torn(std::string what) {
  return Error{ErrorCode::link_lost, std::move(what), "link", "Plug the cable in again; the run can go on."};
}

class TcpTransport final : public Transport {
 public:
  explicit TcpTransport(tcp::socket socket) : socket_(std::move(socket)) {}

  net::awaitable<Result<std::size_t>> read(std::span<std::uint8_t> into) override {
    const auto buffer = net::asio::buffer(into.data(), into.size());
    const auto [ec, n] = co_await socket_.async_read_some(buffer, net::tuple);
    if (ec) co_return torn("the connection to the phone ended");
    co_return n;
  }
  net::awaitable<Result<void>> write(Bytes header, Bytes payload) override {
    const std::array<net::asio::const_buffer, 2> both = {net::asio::buffer(header),
                                                         net::asio::buffer(payload)};
    const auto [ec, n] = co_await net::asio::async_write(socket_, both, net::tuple);
    if (ec) co_return torn("the connection to the phone ended while it was written to");
    co_return Result<void>{};
  }
  void close() noexcept override {
    net::error_code ignored;
    socket_.close(ignored);
  }
  std::string_view kind() const noexcept override { return "tcp"; }

 private:
  tcp::socket socket_;
};

/// One attempt to connect. It outlives the caller's wait: a name look-up cannot be stopped, so it is left
/// behind at the deadline and ends by itself.
struct Attempt {
  explicit Attempt(const net::asio::any_io_executor& executor)
      : resolver(executor), socket(executor), done(executor) {}
  tcp::resolver resolver;
  tcp::socket socket;
  detail::Signal done;
  std::optional<Result<void>> result;
  bool abandoned = false;
};

Error unreachable(const net::error_code& ec) {
  if (ec == net::asio::error::connection_refused || ec == net::asio::error::host_unreachable ||
      ec == net::asio::error::network_unreachable)
    return Error{ErrorCode::not_found, "no phone answers at this address", "tcp",
                 "Check address and port, and that the phone is on and in the same network."};
  return Error{ErrorCode::io, "cannot connect: " + ec.message(), "tcp", "Check address and port."};
}

net::awaitable<Result<void>> try_connect(std::shared_ptr<Attempt> a, std::string host, std::uint16_t port) {
  net::error_code ec;
  std::vector<tcp::endpoint> places;
  if (const auto address = net::asio::ip::make_address(host, ec); !ec) {
    places.emplace_back(address, port);
  } else {
    const auto [failed, found] = co_await a->resolver.async_resolve(host, std::to_string(port), net::tuple);
    if (failed)
      co_return Error{ErrorCode::not_found, "the address of the phone is not known: " + failed.message(),
                      "tcp", "Check how the address is written."};
    for (const auto& f : found) places.push_back(f.endpoint());
  }
  if (a->abandoned) co_return Error{ErrorCode::cancelled, "stopped while connecting", "tcp", ""};
  const auto [refused, place] = co_await net::asio::async_connect(a->socket, places, net::tuple);
  if (refused) co_return unreachable(refused);
  a->socket.set_option(tcp::no_delay(true), ec);
  a->socket.set_option(net::asio::socket_base::keep_alive(true), ec);
  co_return Result<void>{};
}

net::awaitable<void> attempt_connect(std::shared_ptr<Attempt> a, std::string host, std::uint16_t port) {
  a->result = co_await try_connect(a, std::move(host), port);
  a->done.notify();
}
}  // namespace

net::awaitable<Result<std::unique_ptr<Transport>>> connect_tcp(std::string host, std::uint16_t port,
                                                               net::milliseconds deadline) {
  const auto executor = co_await net::asio::this_coro::executor;
  const auto until = detail::deadline_in(deadline);
  const auto a = std::make_shared<Attempt>(executor);
  net::co_spawn(executor, attempt_connect(a, std::move(host), port), net::detached);
  Result<void> waited;
  while (waited && !a->result && !detail::passed(until)) waited = co_await a->done.wait_until(until);
  if (waited && a->result && *a->result) {
    std::unique_ptr<Transport> transport = std::make_unique<TcpTransport>(std::move(a->socket));
    co_return Result<std::unique_ptr<Transport>>(std::move(transport));
  }
  a->abandoned = true;
  a->resolver.cancel();
  net::error_code ignored;
  a->socket.close(ignored);
  if (!waited) co_return waited.error();
  if (a->result) co_return a->result->error();
  co_return Error{ErrorCode::timed_out, "the phone's address did not answer", "tcp",
                  "Check address and port, and that the phone is awake."};
}
}  // namespace hb::link
