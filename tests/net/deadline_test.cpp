#include <gtest/gtest.h>

#include "harness/net/asio.hpp"

namespace hb::net {
namespace {
using std::chrono::hours;

/// A wait that ends `after`, or when it is cancelled as early as a timer can (`deaf`: not at all).
awaitable<Result<int>> value_after(milliseconds after, bool deaf = false) {
  if (deaf) co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
  const auto waited = co_await pause(after);
  if (!waited) co_return waited.error();
  co_return 7;
}

/// Runs with_deadline in a coroutine that is cancelled at once when `cancel`.
Result<int> outcome(milliseconds work, milliseconds limit, bool cancel, bool deaf = false) {
  io_context io(1);
  asio::cancellation_signal stop;
  Result<int> out = Error{ErrorCode::internal, "never ended", "", ""};
  const auto caller = [&]() -> awaitable<void> {
    co_await asio::this_coro::throw_if_cancelled(false);
    out = co_await with_deadline(value_after(work, deaf), limit, "too late");
  };
  co_spawn(io, caller(), asio::bind_cancellation_slot(stop.slot(), detached));
  if (cancel) asio::post(io, [&] { stop.emit(asio::cancellation_type::terminal); });
  io.run();
  return out;
}

TEST(Deadline, GivesWhatTheWorkGivesInTime) {
  EXPECT_EQ(outcome(milliseconds(1), hours(1), false).value_or(0), 7);
}

TEST(Deadline, SaysTimedOutWhenItRanOut) {
  const auto r = outcome(hours(1), milliseconds(5), false);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::timed_out);
  EXPECT_EQ(r.error().what, "too late");
}

TEST(Deadline, IsNotSaidToHaveRunOutWhenTheCallerWasCancelled) {
  const auto r = outcome(hours(1), hours(2), true);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::cancelled);
}

TEST(Deadline, IsNotSaidToHaveRunOutWhenTheWorkIsSlowerToStopThanTheTimer) {
  const auto r = outcome(milliseconds(50), hours(2), true, true);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::cancelled);
}
}  // namespace
}  // namespace hb::net
