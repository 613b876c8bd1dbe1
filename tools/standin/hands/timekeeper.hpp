/// Who moves simulated time.
///   stepped   only commands (20 ms each) and the fixture channel's wait_ms move it: runs are repeatable
///   wall      real time
///   rate:N    N times real time
/// Threads: the io_context's thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <string_view>

#include "harness/net/asio.hpp"
#include "tools/standin/hands/world.hpp"

namespace hb::standin {
struct Pace {
  enum class Kind { stepped, wall, rate };
  Kind kind = Kind::stepped;
  double rate = 1;
  /// "stepped", "wall", "rate:N" with 0.01 <= N <= 1000.
  [[nodiscard]] static Result<Pace> parse(std::string_view text);
  [[nodiscard]] std::string_view name() const noexcept;
};

class Timekeeper {
 public:
  static constexpr std::chrono::milliseconds kCommand{20};
  static constexpr std::int64_t kLongestWait_ms = 600'000;

  Timekeeper(net::io_context& io, World& world, Pace pace);
  Timekeeper(const Timekeeper&) = delete;
  Timekeeper& operator=(const Timekeeper&) = delete;

  /// A shell command or a request of the fixture channel is about to be answered.
  void before_command();
  void before_request();
  /// Stepped time only: all that happens within `ms` has happened on return.
  [[nodiscard]] Result<void> wait(std::int64_t ms);
  [[nodiscard]] const Pace& pace() const noexcept { return pace_; }
  void stop() { timer_.cancel(); }

 private:
  void catch_up();
  void tick();

  World& world_;
  Pace pace_;
  net::asio::steady_timer timer_;
  std::chrono::steady_clock::time_point start_;
};
}  // namespace hb::standin
