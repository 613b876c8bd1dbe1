#include "drive.hpp"

#include "checks/follow.hpp"

namespace hb::checks::camera {

net::awaitable<Result<bool>> follow_operator(Context& context, Action action) {
  constexpr auto patience = std::chrono::minutes(2);
  constexpr auto poll = std::chrono::milliseconds(250);
  co_return co_await follow(context, std::move(action), patience,
                            [&context, poll] { return context.clock.wait(poll); });
}
}  // namespace hb::checks::camera
