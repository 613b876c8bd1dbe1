/// A condition that one coroutine waits for: the caller looks at its state, waits, and looks again.
/// Threads: one strand. At most one waiter at a time. The owner keeps the Signal alive while somebody waits
/// (a shared_ptr to the owner in the waiting coroutine's frame).
#pragma once

#include <chrono>
#include <memory>

#include "harness/net/asio.hpp"

namespace hb::link::detail {
using TimePoint = std::chrono::steady_clock::time_point;

/// `d` from now, with absurd values cut to a day, so that no sum overflows.
[[nodiscard]] inline TimePoint deadline_in(net::milliseconds d) {
  constexpr net::milliseconds day = std::chrono::hours(24);
  return std::chrono::steady_clock::now() + std::clamp(d, net::milliseconds(0), day);
}
[[nodiscard]] inline bool passed(TimePoint deadline) { return std::chrono::steady_clock::now() >= deadline; }

class Signal {
 public:
  explicit Signal(const net::asio::any_io_executor& executor) : timer_(executor) {}
  /// Wakes the waiter, if there is one; never runs it here.
  void notify() { timer_.cancel(); }
  /// Returns after notify(), after `deadline`, or at once with `cancelled` when the coroutine was cancelled.
  [[nodiscard]] net::awaitable<Result<void>> wait_until(TimePoint deadline) {
    timer_.expires_at(deadline);
    static_cast<void>(co_await timer_.async_wait(net::tuple));
    const auto state = co_await net::asio::this_coro::cancellation_state;
    if (state.cancelled() != net::asio::cancellation_type::none)
      co_return Error{ErrorCode::cancelled, "stopped while waiting for the phone", "", ""};
    co_return Result<void>{};
  }

 private:
  net::asio::steady_timer timer_;
};
}  // namespace hb::link::detail
