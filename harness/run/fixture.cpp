#include "harness/run/fixture.hpp"

#include <fmt/format.h>
#include <sodium.h>

#include <array>
#include <cmath>

namespace hb::run {
namespace {
namespace asio = net::asio;
using nlohmann::json;
constexpr std::size_t kMaxReply = 4096;

Error not_agreed() {
  return Error{ErrorCode::bad_format, "the fixture's reply is not of the agreed form", "",
               "See harness/run/fixture.hpp."};
}

/// Serialises requests: holding the one token of the channel is holding the line.
class Line {
 public:
  explicit Line(net::tcp::socket socket) : socket_(std::move(socket)), token_(socket_.get_executor(), 1) {}

  net::awaitable<Result<json>> ask(json request, net::milliseconds deadline) {
    const auto [ec] = co_await token_.async_send(net::error_code{}, net::tuple);
    if (ec) co_return Error{ErrorCode::cancelled, "stopped while waiting for the fixture", "", ""};
    const Release release{token_};
    auto reply = co_await net::with_deadline(exchange(request.dump() + "\n"), deadline,
                                             "the fixture did not answer in time",
                                             "See that the fixture is running, then resume.");
    if (!reply && reply.error().code != ErrorCode::bad_format) socket_.close();
    co_return reply;
  }

 private:
  net::awaitable<Result<json>> exchange(std::string line) {
    const Error lost{ErrorCode::link_lost, "the fixture's connection is lost", "",
                     "Start the fixture again, then resume."};
    const auto [wec, wn] = co_await asio::async_write(socket_, asio::buffer(line), net::tuple);
    if (wec) co_return lost;
    for (std::size_t eol = 0; (eol = buffer_.find('\n')) == std::string::npos;) {
      if (buffer_.size() > kMaxReply)
        co_return Error{ErrorCode::bad_format, "the fixture's reply has no end", "", ""};
      std::array<char, 512> chunk{};
      const Wiped wiped{chunk};
      const auto [ec, n] = co_await socket_.async_read_some(asio::buffer(chunk), net::tuple);
      if (ec) co_return lost;
      buffer_.append(chunk.data(), n);
    }
    const auto eol = buffer_.find('\n');
    json reply = json::parse(buffer_.substr(0, eol), nullptr, false);
    buffer_.erase(0, eol + 1);
    if (!reply.is_object() || !reply.contains("ok") || !reply["ok"].is_boolean()) co_return not_agreed();
    co_return reply;
  }

  /// A coroutine's frame is kept for the next one, not given back: what was in it is overwritten here.
  struct Wiped {
    std::array<char, 512>& bytes;
    ~Wiped() { sodium_memzero(bytes.data(), bytes.size()); }
  };
  using Token = asio::experimental::channel<void(net::error_code)>;
  struct Release {
    Token& token;
    ~Release() {
      token.try_receive([](net::error_code) {});
    }
  };

  net::tcp::socket socket_;
  std::string buffer_;
  Token token_;
};

constexpr net::milliseconds kAnswer{20000};

/// What a reply says under `key`: `otherwise` when it says nothing, bad_format when that is no T.
template <class T>
Result<T> said(const json& reply, const char* key, T otherwise) {
  const auto at = reply.find(key);
  if (at == reply.end()) return otherwise;
  bool fits = false;
  if constexpr (std::is_same_v<T, bool>) fits = at->is_boolean();
  if constexpr (std::is_same_v<T, double>) fits = at->is_number();
  if constexpr (std::is_same_v<T, std::string>) fits = at->is_string();
  if (!fits) return not_agreed();
  return at->template get<T>();
}

/// Made outside the coroutines: GCC 12 cannot keep a braced list in a coroutine's frame.
template <class T>
json request(const char* key, T value) {
  json j = json::object();
  j[key] = value;
  return j;
}
json begin_request(const checks::Action& action) { return request("begin", checks::to_json(action)); }

class FixtureOperator final : public checks::Operator {
 public:
  explicit FixtureOperator(std::shared_ptr<Line> line) : line_(std::move(line)) {}
  net::awaitable<Result<void>> begin(checks::Action action) override {
    auto r = co_await line_->ask(begin_request(action), kAnswer);
    if (!r) co_return r.error();
    if (!(*r)["ok"].get<bool>())
      co_return Error{ErrorCode::refused,
                      fmt::format("the fixture cannot do '{}'", checks::name(action).view()), "",
                      "Do it by hand, without the fixture."};
    co_return Result<void>{};
  }
  net::awaitable<Result<bool>> done() override {
    auto r = co_await line_->ask(request("status", true), kAnswer);
    if (!r) co_return r.error();
    const auto busy = said(*r, "busy", false);
    if (!busy) co_return busy.error();
    co_return !*busy;
  }
  net::awaitable<Result<double>> observe(checks::Question question) override {
    json request_json = request("observe", checks::name(question.inspection).str());
    request_json["part"] = question.part.str();
    auto r = co_await line_->ask(std::move(request_json), kAnswer);
    if (!r) co_return r.error();
    const auto value = r->find("value");
    if (!(*r)["ok"].get<bool>() || value == r->end() || !value->is_number())
      co_return Error{ErrorCode::unsupported, "the fixture has no eyes for what was asked", "",
                      "Do it by hand, without the fixture."};
    co_return value->get<double>();
  }
  net::awaitable<Result<void>> enough() override {
    auto r = co_await line_->ask(request("enough", true), kAnswer);
    if (!r) co_return r.error();
    co_return Result<void>{};
  }

 private:
  std::shared_ptr<Line> line_;
};

class SteppedClock final : public net::Clock {
 public:
  explicit SteppedClock(std::shared_ptr<Line> line) : line_(std::move(line)) {}
  net::BenchTime now() const override { return now_; }
  net::awaitable<Result<void>> wait(std::chrono::milliseconds d) override {
    auto r = co_await line_->ask(request("wait_ms", d.count()), net::milliseconds(120000));
    if (!r) co_return r.error();
    now_ += d;
    co_return Result<void>{};
  }
  bool moved_by_waiting() const override { return true; }
  Term kind() const override { return "simulated: stepped by a fixture"; }

 private:
  std::shared_ptr<Line> line_;
  net::BenchTime now_{0};
};

class RateClock final : public net::Clock {
 public:
  explicit RateClock(double rate) : rate_(rate) {}
  net::BenchTime now() const override {
    const auto t = std::chrono::duration<double, std::nano>(wall_.now()) * rate_;
    return std::chrono::duration_cast<net::BenchTime>(t);
  }
  net::awaitable<Result<void>> wait(std::chrono::milliseconds d) override {
    const auto wall = std::chrono::duration<double, std::milli>(d) / rate_;
    co_return co_await wall_.wait(std::chrono::milliseconds(static_cast<long long>(std::ceil(wall.count()))));
  }
  Term kind() const override { return "simulated: a fixture's clock at a rate"; }

 private:
  net::WallClock wall_;
  double rate_;
};

class TcpFixture final : public Fixture {
 public:
  TcpFixture(std::shared_ptr<Line> line, std::shared_ptr<net::Clock> clock)
      : op_(std::make_shared<FixtureOperator>(std::move(line))), clock_(std::move(clock)) {}
  std::shared_ptr<checks::Operator> op() override { return op_; }
  std::shared_ptr<net::Clock> clock() override { return clock_; }

 private:
  std::shared_ptr<checks::Operator> op_;
  std::shared_ptr<net::Clock> clock_;
};

net::awaitable<Result<net::tcp::socket>> dial(std::string host, std::uint16_t port) {
  const auto executor = co_await asio::this_coro::executor;
  net::tcp::resolver resolver(executor);
  const Error none{ErrorCode::not_found, "no fixture answers at this address",
                   fmt::format("{}:{}", host, port),
                   "Start the fixture, or leave the option out and follow the prompts by hand."};
  const auto [rec, ends] = co_await resolver.async_resolve(host, std::to_string(port), net::tuple);
  if (rec) co_return none;
  net::tcp::socket socket(executor);
  const auto [cec, end] = co_await asio::async_connect(socket, ends, net::tuple);
  if (cec) co_return none;
  net::error_code slower;
  socket.set_option(net::tcp::no_delay(true), slower);
  co_return Result<net::tcp::socket>(std::move(socket));
}
}  // namespace

net::awaitable<Result<std::shared_ptr<Fixture>>> Fixture::connect(std::string host, std::uint16_t port) {
  auto socket =
      co_await net::with_deadline(dial(host, port), net::milliseconds(5000), "the fixture did not answer");
  if (!socket) co_return socket.error();
  auto line = std::make_shared<Line>(std::move(*socket));
  auto hello = co_await line->ask(request("hello", 1), net::milliseconds(5000));
  if (!hello) co_return hello.error();
  std::shared_ptr<net::Clock> clock = std::make_shared<net::WallClock>();
  const auto kind = said(*hello, "clock", std::string("wall"));
  const auto rate = said(*hello, "rate", 1.0);
  if (!kind) co_return kind.error();
  if (!rate) co_return rate.error();
  if (*kind == "stepped")
    clock = std::make_shared<SteppedClock>(line);
  else if (*kind == "rate" && *rate > 0.01 && *rate < 10000)
    clock = std::make_shared<RateClock>(*rate);
  co_return std::shared_ptr<Fixture>(std::make_shared<TcpFixture>(line, clock));
}
}  // namespace hb::run
