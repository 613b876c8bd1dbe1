#include "drive.hpp"

#include "checks/follow.hpp"

namespace hb::checks::camera {

net::awaitable<Result<bool>> follow_hands(Context& context, Ask ask) {
  constexpr auto patience = std::chrono::minutes(2);
  constexpr auto poll = std::chrono::milliseconds(250);
  co_return co_await follow(context, std::move(ask), patience,
                            [&context, poll] { return context.clock.wait(poll); });
}
}  // namespace hb::checks::camera
