// The only part that waits. The platform's ring of recent events is read again and again and merged by time.
#include <algorithm>
#include <map>

#include "checks/follow.hpp"
#include "checks/vibration/vibration.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
constexpr net::milliseconds kPoll{120};  // bench time: 10 events at 50 Hz are 200 ms
constexpr int kAccelerometer = 1, kBurst_ms = 900;
constexpr double kSpinUp_s = 0.15, kEnd_s = 0.85;  // of a burst, what counts
constexpr auto kActionLimit = std::chrono::seconds(90);

awaitable<Result<void>> lie_still(Context& context) {
  Action action = LeaveAlone{1};
  Error late{ErrorCode::timed_out, "the phone was not laid down in time", "vibration",
             "Run the check again and follow the prompts."};
  co_return co_await follow_through(
      context, std::move(action), kActionLimit, [&context] { return context.clock.wait(kPoll); },
      std::move(late));
}

/// Events between two times of the phone's clock; listens until the later one has passed.
awaitable<Result<std::vector<Vibration::Sample>>> listen(Context& context, double from_s, double to_s) {
  std::map<double, std::array<double, 3>> ring;
  for (;;) {
    const auto waited = co_await context.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    const auto r = co_await context.phone.sensor(kAccelerometer);
    if (!r) co_return r.error();
    for (const auto& e : r->events)
      if (e.t_s >= from_s && e.t_s <= to_s && e.values.size() >= 3)
        ring.emplace(e.t_s, std::array{e.values[0], e.values[1], e.values[2]});
    const auto now_s = co_await context.phone.uptime_s();
    if (!now_s) co_return now_s.error();
    if (*now_s >= to_s) break;
  }
  std::vector<Vibration::Sample> out;
  for (const auto& [t_s, value] : ring) out.push_back({t_s, value});
  co_return out;
}
}  // namespace

awaitable<Result<Vibration::Capture>> Vibration::acquire(Context& context, Config config) const {
  Capture capture;
  context.progress.step(0, "lay the phone down");
  const auto still = co_await lie_still(context);
  if (!still) co_return still.error();
  const auto from_s = co_await context.phone.uptime_s();
  if (!from_s) co_return from_s.error();
  auto rest = co_await listen(context, *from_s, *from_s + 1);
  if (!rest) co_return rest.error();
  capture.rest = std::move(*rest);
  for (int i = 0; i < config.bursts; ++i) {
    context.progress.step(0.2 + 0.6 * i / config.bursts, "vibrating");
    const auto start_s = co_await context.phone.uptime_s();
    if (!start_s) co_return start_s.error();
    const auto started = co_await context.phone.vibrate(kBurst_ms);
    if (!started) co_return started.error();
    auto burst = co_await listen(context, *start_s + kSpinUp_s, *start_s + kEnd_s);
    if (!burst) co_return burst.error();
    capture.bursts.push_back(std::move(*burst));
    const auto rested = co_await context.clock.wait(net::milliseconds(600));
    if (!rested) co_return rested.error();
  }
  const auto seen = shakes(capture, config);
  const bool all = std::all_of(seen.begin(), seen.end(), [](const auto& s) { return s && s->seen; });
  if (!all) {
    Question question{Inspection::buzzed, {}};
    const auto felt = co_await context.op.observe(std::move(question));
    if (!felt && felt.error().code != ErrorCode::unsupported) co_return felt.error();
    if (felt) capture.felt = *felt >= 0.5;
  }
  context.progress.step(1, "done");
  co_return capture;
}

}  // namespace hb::checks
