#include "tools/standin/hands/jig.hpp"

#include <nlohmann/json.hpp>

#include "tools/standin/gossip/gossip.hpp"
#include "tools/standin/hands/eyes.hpp"

namespace hb::standin {
namespace {
namespace asio = net::asio;
using nlohmann::json;
constexpr std::size_t kMaxLine = 4096;

json no(std::string why) { return json{{"ok", false}, {"why", std::move(why)}}; }
json yes(const Result<void>& r) { return r ? json{{"ok", true}} : no(r.error().message()); }

std::string text_of(const json& request, const char* key) {
  const auto it = request.find(key);
  return it != request.end() && it->is_string() ? it->get<std::string>() : std::string();
}

net::awaitable<void> serve(net::tcp::socket socket, JigDesk& desk) {
  std::string pending;
  for (;;) {
    for (std::size_t eol; (eol = pending.find('\n')) != std::string::npos;) {
      const std::string reply = desk.answer(std::string_view(pending).substr(0, eol)) + "\n";
      pending.erase(0, eol + 1);
      const auto [ec, n] = co_await asio::async_write(socket, asio::buffer(reply), net::tuple);
      if (ec) co_return;
    }
    if (pending.size() > kMaxLine) co_return;
    char chunk[1024];
    const auto [ec, n] = co_await socket.async_read_some(asio::buffer(chunk), net::tuple);
    if (ec) co_return;
    pending.append(chunk, n);
  }
}

class TcpJig final : public Jig {
 public:
  TcpJig(net::io_context& io, JigDesk& desk, std::uint16_t port)
      : desk_(desk), acceptor_(io, net::tcp::endpoint(asio::ip::address_v4::loopback(), port)) {
    accept();
  }
  std::uint16_t port() const override { return acceptor_.local_endpoint().port(); }

 private:
  void accept() {
    acceptor_.async_accept([this](net::error_code ec, net::tcp::socket socket) {
      if (ec == asio::error::operation_aborted) return;
      if (!ec) {
        net::error_code ignored;
        socket.set_option(net::tcp::no_delay(true), ignored);
        auto executor = socket.get_executor();
        net::co_spawn(executor, serve(std::move(socket), desk_), net::detached);
      }
      accept();
    });
  }
  JigDesk& desk_;
  net::tcp::acceptor acceptor_;
};
}  // namespace

std::string JigDesk::answer(std::string_view line) {
  const json request = json::parse(line, nullptr, false);
  json reply = request.is_object() ? reply_to(request) : no("a request is one JSON object on one line");
  if (world_.unit().gossips) reply["note"] = gossip::line(gossip::Place::fixture);
  return reply.dump(-1, ' ', false, json::error_handler_t::replace);
}

json JigDesk::reply_to(const json& request) {
  time_.before_request();
  const auto now_ms = [this] { return world_.now_us() / 1000; };
  if (request.contains("hello"))
    return {{"ok", true}, {"clock", time_.pace().name()}, {"rate", time_.pace().rate}};
  if (const auto begin = request.find("begin"); begin != request.end()) {
    const auto action = checks::action_from_json(*begin);
    return action ? yes(world_.hands().begin(*action, world_.now_us())) : no(action.error().message());
  }
  if (request.contains("status"))
    return {{"ok", true}, {"busy", world_.hands().busy()}, {"now_ms", now_ms()}};
  if (request.contains("enough")) {
    world_.hands().enough(world_.now_us());
    return {{"ok", true}};
  }
  if (request.contains("observe")) {
    const auto seen = look(world_.unit(), text_of(request, "observe"), text_of(request, "part"));
    if (!seen) return no(seen.error().message());
    return {{"ok", true}, {"value", *seen}};
  }
  if (request.contains("wait_ms")) {
    if (!request["wait_ms"].is_number_integer()) return no("wait_ms is a whole number");
    json reply = yes(time_.wait(request["wait_ms"].get<std::int64_t>()));
    reply["now_ms"] = now_ms();
    return reply;
  }
  if (request.contains("pull") || request.contains("plug")) {
    const bool in = request.contains("plug");
    world_.hands().set_cable(in);
    if (const auto& react = in ? on_plug : on_pull) react();
    return {{"ok", true}};
  }
  return no("a request is one of hello, begin, status, enough, observe, wait_ms, pull, plug");
}

std::unique_ptr<Jig> Jig::listen(net::io_context& io, JigDesk& desk, std::uint16_t port) {
  return std::make_unique<TcpJig>(io, desk, port);
}
}  // namespace hb::standin
