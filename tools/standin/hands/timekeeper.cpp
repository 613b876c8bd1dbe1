#include "tools/standin/hands/timekeeper.hpp"

#include "harness/base/text.hpp"

namespace hb::standin {

Result<Pace> Pace::parse(std::string_view text) {
  if (text == "stepped") return Pace{Kind::stepped, 1};
  if (text == "wall") return Pace{Kind::wall, 1};
  if (text.substr(0, 5) == "rate:") {
    const auto n = to_double(text.substr(5));
    if (n && *n >= 0.01 && *n <= 1000) return Pace{Kind::rate, *n};
  }
  return Error{ErrorCode::invalid_argument, "this is not a clock", printable(text, 40),
               "Write stepped, wall, or rate:N with N from 0.01 to 1000."};
}

std::string_view Pace::name() const noexcept {
  switch (kind) {
    case Kind::stepped:
      return "stepped";
    case Kind::wall:
      return "wall";
    case Kind::rate:
      return "rate";
  }
  return "";
}

Timekeeper::Timekeeper(net::io_context& io, World& world, Pace pace)
    : world_(world), pace_(pace), timer_(io), start_(std::chrono::steady_clock::now()) {
  if (pace_.kind != Pace::Kind::stepped) tick();
}

void Timekeeper::catch_up() {
  const std::chrono::duration<double, std::micro> real = std::chrono::steady_clock::now() - start_;
  const auto due = static_cast<std::int64_t>(real.count() * pace_.rate);
  if (due > world_.now_us()) world_.advance(std::chrono::microseconds(due - world_.now_us()));
}

void Timekeeper::tick() {
  catch_up();
  timer_.expires_after(std::chrono::milliseconds(5));
  timer_.async_wait([this](net::error_code ec) {
    if (!ec) tick();
  });
}

void Timekeeper::before_command() {
  if (pace_.kind == Pace::Kind::stepped)
    world_.advance(kCommand);
  else
    catch_up();
}

void Timekeeper::before_request() {
  if (pace_.kind != Pace::Kind::stepped) catch_up();
}

Result<void> Timekeeper::wait(std::int64_t ms) {
  if (pace_.kind != Pace::Kind::stepped)
    return Error{ErrorCode::unsupported, "this clock runs by itself", "wait_ms", "Wait in real time."};
  if (ms < 0 || ms > kLongestWait_ms)
    return Error{ErrorCode::invalid_argument, "wait_ms is from 0 to 600000", "wait_ms", ""};
  world_.advance(std::chrono::milliseconds(ms));
  return {};
}
}  // namespace hb::standin
