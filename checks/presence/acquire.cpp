// The only part that waits. Rings of recent events are read again and again and merged by time stamp.
#include <algorithm>
#include <map>

#include "checks/follow.hpp"
#include "checks/presence/presence.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
constexpr net::milliseconds kPoll{200};  // bench time
constexpr auto kActionLimit = std::chrono::seconds(90);

class Listener {
 public:
  Listener(Context& context, const Presence::Config& config) : context_(context), config_(config) {}

  awaitable<Result<void>> follow(Action action) {
    Error late = not_done_in_time("presence");
    co_return co_await follow_through(
        context_, std::move(action), kActionLimit, [this] { return context_.clock.wait(kPoll); },
        std::move(late));
  }

  /// First values that came after now, of each sensor.
  awaitable<Result<void>> listen(bool covered) {
    const auto from_s = co_await context_.phone.uptime_s();
    if (!from_s) co_return from_s.error();
    std::vector<std::map<double, double>> rings(config_.sensors.size());
    const auto until = context_.clock.now() + std::chrono::duration_cast<net::BenchTime>(
                                                  std::chrono::duration<double>(config_.listen_s));
    do {
      const auto waited = co_await context_.clock.wait(kPoll);
      if (!waited) co_return waited.error();
      for (std::size_t i = 0; i < rings.size(); ++i) {
        if (covered && !config_.sensors[i].covered) continue;
        const auto r = co_await context_.phone.sensor(config_.sensors[i].type);
        if (!r) co_return r.error();
        capture.sensors[i].listed = capture.sensors[i].listed || r->listed;
        for (const auto& e : r->events)
          if (e.t_s >= *from_s && !e.values.empty()) rings[i].emplace(e.t_s, e.values[0]);
      }
    } while (context_.clock.now() < until);
    for (std::size_t i = 0; i < rings.size(); ++i)
      for (const auto& [t_s, value] : rings[i])
        (covered ? capture.sensors[i].covered : capture.sensors[i].open).push_back(value);
    co_return Result<void>{};
  }

  Presence::Capture capture;

 private:
  Context& context_;
  Presence::Config config_;
};
}  // namespace

awaitable<Result<Presence::Capture>> Presence::acquire(Context& context, Config config) const {
  Listener listener(context, config);
  for (const auto& s : config.sensors) {
    Heard heard;
    heard.type = s.type;
    listener.capture.sensors.push_back(std::move(heard));
  }
  if (config.camera_light) {
    const auto cameras = co_await context.phone.cameras();
    if (!cameras && cameras.error().code != ErrorCode::unsupported) co_return cameras.error();
    if (cameras) listener.capture.camera_lights = cameras->with_light;
  }
  if (config.fingerprint) {
    const auto readers = co_await context.phone.fingerprint_readers();
    if (!readers && ends_the_check(readers.error())) co_return readers.error();
    if (readers) listener.capture.fingerprint_readers = *readers;  // else: not reported
  }
  context.progress.step(0.1, "listening to the small sensors");
  Action rest = LeaveAlone{1};
  const auto rested = co_await listener.follow(std::move(rest));
  if (!rested) co_return rested.error();
  const auto open = co_await listener.listen(false);
  if (!open) co_return open.error();
  const bool cover =
      std::any_of(config.sensors.begin(), config.sensors.end(), [](const auto& s) { return s.covered; });
  if (cover) {
    context.progress.step(0.5, "cover the light sensor");
    Action finger = CoverTop{};
    const auto covered = co_await listener.follow(std::move(finger));
    if (!covered) co_return covered.error();
    const auto dark = co_await listener.listen(true);
    if (!dark) co_return dark.error();
    Action away = LeaveAlone{1};
    const auto uncovered = co_await listener.follow(std::move(away));
    if (!uncovered) co_return uncovered.error();
  }
  context.progress.step(1, "done");
  co_return std::move(listener.capture);
}

}  // namespace hb::checks
