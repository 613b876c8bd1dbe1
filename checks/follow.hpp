/// An action from asking to done. Threads: the phone's strand.
#pragma once

#include <concepts>
#include <utility>

#include "checks/definition.hpp"
#include "harness/net/asio.hpp"

namespace hb::checks {

/// Asks the operator for `action` and calls `poll` until they have finished, or until `limit` of bench time
/// has passed: then they are told that it is enough, and the answer is false. `poll` waits (Context::clock)
/// and takes the check's readings; it gives an awaitable<Result<void>> and outlives no call. Its errors, and
/// those of operator and clock, are handed on.
template <class Poll>
requires std::same_as<std::invoke_result_t<Poll&>, net::awaitable<Result<void>>>
[[nodiscard]] net::awaitable<Result<bool>> follow(Context& context, Action action, net::BenchTime limit,
                                                  Poll poll) {
  const auto begun = co_await context.op.begin(std::move(action));
  if (!begun) co_return begun.error();
  const auto until = context.clock.now() + limit;
  do {
    const auto polled = co_await poll();
    if (!polled) co_return polled.error();
    const auto done = co_await context.op.done();
    if (!done) co_return done.error();
    if (*done) co_return true;
  } while (context.clock.now() < until);
  const auto stopped = co_await context.op.enough();
  if (!stopped) co_return stopped.error();
  co_return false;
}

/// The same for an action that must come to its end: `late` is the error when it has not.
template <class Poll>
[[nodiscard]] net::awaitable<Result<void>> follow_through(Context& context, Action action,
                                                          net::BenchTime limit, Poll poll, Error late) {
  const auto done = co_await follow(context, std::move(action), limit, std::move(poll));
  if (!done) co_return done.error();
  if (!*done) co_return late;
  co_return Result<void>{};
}

/// The usual `late`.
[[nodiscard]] Error not_done_in_time(const char* where);

/// The phone or the person is gone: nothing else of a check can be tried.
[[nodiscard]] bool ends_the_check(const Error& e) noexcept;
}  // namespace hb::checks
