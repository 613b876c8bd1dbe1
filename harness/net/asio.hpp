/// The one door to Boost.Asio (1.81). Nobody includes Asio directly, so that its version, its flags and the
/// names we use live in one place.
/// Threads: one io_context a process by default; one strand a phone; see each class.
#pragma once

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/dispatch.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/experimental/channel.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/strand.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <chrono>
#include <string>
#include <variant>

#include "harness/base/result.hpp"
#include "harness/net/awaitable.hpp"

namespace hb::net {
namespace asio = boost::asio;
using asio::co_spawn;
using asio::detached;
using asio::io_context;
using asio::ip::tcp;
using boost::system::error_code;
using std::chrono::milliseconds;

/// Completion token: `auto [ec, n] = co_await socket.async_read_some(buf, net::tuple);`
inline constexpr auto tuple = asio::as_tuple(asio::use_awaitable);

/// Wall-clock pause; cancelled by the coroutine's cancellation. For link deadlines and back-off only: bench
/// time (dwells, settling) passes through Clock, so that a fixture with its own time can drive it.
[[nodiscard]] awaitable<Result<void>> pause(milliseconds d);

/// Runs `work`; when it has not finished after `limit` (wall time) it is cancelled and the Error is
/// timed_out with `what` and `next`. When the caller is cancelled first: what `work` gives, else cancelled.
/// The coroutine frame of `work` owns all that it waits with.
template <class T>
awaitable<Result<T>> with_deadline(awaitable<Result<T>> work, milliseconds limit, std::string what,
                                   std::string next = {}) {
  using namespace asio::experimental::awaitable_operators;
  asio::steady_timer timer(co_await asio::this_coro::executor, limit);
  auto r = co_await (std::move(work) || timer.async_wait(tuple));
  if (r.index() == 0) co_return std::get<0>(std::move(r));
  // A timer that ended with an error did not run out: it was stopped together with `work`, and was quicker.
  if (const auto [ec] = std::get<1>(r); ec)
    co_return Error{ErrorCode::cancelled, "stopped while waiting", "", ""};
  co_return Error{ErrorCode::timed_out, std::move(what), "", std::move(next)};
}
}  // namespace hb::net
