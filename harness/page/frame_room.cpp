#include "harness/page/frame_room.hpp"

#include <algorithm>

namespace hb::page {

net::awaitable<Result<std::shared_ptr<void>>> FrameRoom::take(std::size_t bytes) {
  bytes = std::min(bytes, all_);
  const auto self = shared_from_this();
  net::asio::steady_timer turn(co_await net::asio::this_coro::executor,
                               net::asio::steady_timer::time_point::max());
  struct Place {
    FrameRoom& room;
    std::list<net::asio::steady_timer*>::iterator at;
    ~Place() {
      room.waiting_.erase(at);
      if (!room.waiting_.empty()) room.waiting_.front()->cancel();
    }
  };
  waiting_.push_back(&turn);
  const Place place{*this, std::prev(waiting_.end())};
  while (waiting_.front() != &turn || free_ < bytes) {
    co_await turn.async_wait(net::tuple);
    const auto state = co_await net::asio::this_coro::cancellation_state;
    if (state.cancelled() != net::asio::cancellation_type::none)
      co_return Error{ErrorCode::cancelled, "stopped", "phone page", ""};
    turn.expires_at(net::asio::steady_timer::time_point::max());
  }
  free_ -= bytes;
  co_return std::shared_ptr<void>(nullptr, [self, bytes](void*) { self->give_back(bytes); });
}

void FrameRoom::give_back(std::size_t bytes) {
  free_ += bytes;
  if (!waiting_.empty()) waiting_.front()->cancel();
}
}  // namespace hb::page
