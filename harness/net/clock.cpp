#include "harness/net/clock.hpp"

#include "harness/net/asio.hpp"

namespace hb::net {
awaitable<Result<void>> pause(milliseconds d) {
  asio::steady_timer timer(co_await asio::this_coro::executor, d);
  const auto [ec] = co_await timer.async_wait(tuple);
  if (ec) co_return Error{ErrorCode::cancelled, "stopped while waiting", "", ""};
  co_return Result<void>{};
}

BenchTime WallClock::now() const {
  return std::chrono::duration_cast<BenchTime>(std::chrono::steady_clock::now().time_since_epoch());
}

awaitable<Result<void>> WallClock::wait(std::chrono::milliseconds d) { co_return co_await pause(d); }
}  // namespace hb::net
