// The only part that waits. The sensor cannot be subscribed to from a shell: its ring of recent events is
// read again and again, so that successive readings overlap (the platform keeps the last 10 events, AOSP
// SensorService; at 50 Hz that is 200 ms).
#include <algorithm>
#include <map>

#include "checks/hinge_sweep/hinge_sweep.hpp"
#include "harness/net/asio.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
using net::milliseconds;

constexpr milliseconds kPoll{100}, kPollAfterOverrun{20};
constexpr int kStateEvery = 3;
constexpr double kCycleBudget_s = 20, kStopBudget_s = 90;

Error forced() {
  return {ErrorCode::unsupported, "the fold state is forced on this phone; clear the override and run again",
          "hinge", ""};
}

class Listener {
 public:
  Listener(Context& context, const HingeSweep::Config& config) : context_(context), config_(config) {}

  /// Not forced, and the sensor is there.
  awaitable<Result<void>> check() {
    const auto state = co_await context_.phone.device_state();
    if (!state && state.error().code != ErrorCode::unsupported) co_return state.error();
    if (state && state->forced) co_return forced();
    states_offered_ = state.has_value();
    const auto sensor = co_await context_.phone.sensor(config_.sensor_type);
    if (!sensor) co_return sensor.error();
    if (!sensor->listed)
      co_return Error{ErrorCode::unsupported, "this phone lists no hinge-angle sensor of the profile's type",
                      "hinge.sensor_type", "Compare the profile with the model."};
    if (sensor->masked && sensor->events.empty())
      co_return Error{ErrorCode::unsupported, "this phone hides the values of its hinge sensor", "hinge", ""};
    co_return Result<void>{};
  }

  /// One deed from asking to done, polled all the way. Returns its window on the phone's clock.
  awaitable<Result<HingeSweep::Window>> follow(Action action, double budget_s, double from, double to,
                                               Term doing) {
    HingeSweep::Window window;
    const auto begin_s = co_await context_.phone.uptime_s();
    if (!begin_s) co_return begin_s.error();
    window.begin_s = *begin_s;
    const auto begun = co_await context_.op.begin(std::move(action));
    if (!begun) co_return begun.error();
    const auto start = context_.clock.now();
    for (int round = 0;; ++round) {
      const auto waited = co_await context_.clock.wait(overrun_ ? kPollAfterOverrun : kPoll);
      if (!waited) co_return waited.error();
      const auto polled = co_await poll(round % kStateEvery == kStateEvery - 1);
      if (!polled) co_return polled.error();
      const auto done = co_await context_.op.done();
      if (!done) co_return done.error();
      if (*done) break;
      const double elapsed_s = std::chrono::duration<double>(context_.clock.now() - start).count();
      if (elapsed_s > budget_s) {
        const auto stopped = co_await context_.op.enough();
        if (!stopped) co_return stopped.error();
        co_return Error{ErrorCode::timed_out, "the hinge was not moved as asked in time", "hinge",
                        "Run the check again and follow the prompts."};
      }
      context_.progress.step(from + (to - from) * std::min(1.0, 2 * elapsed_s / budget_s), doing);
    }
    const auto end_s = co_await context_.phone.uptime_s();
    if (!end_s) co_return end_s.error();
    window.end_s = *end_s;
    co_return window;
  }

  /// Events from before the sweep may still be in the ring; they do not count.
  [[nodiscard]] bool silent_since(double t_s) const { return events_.empty() || newest_s_ < t_s; }

  [[nodiscard]] HingeSweep::Capture take() {
    for (const auto& [t_s, deg] : events_) capture.events.push_back({t_s, deg});
    return std::move(capture);
  }

  HingeSweep::Capture capture;

 private:
  awaitable<Result<void>> poll(bool with_state) {
    const auto sensor = co_await context_.phone.sensor(config_.sensor_type);
    if (!sensor) co_return sensor.error();
    take_events(sensor->events);
    if (!with_state || !states_offered_ || events_.empty()) co_return Result<void>{};
    const auto state = co_await context_.phone.device_state();
    if (!state) co_return state.error();
    if (state->forced) {
      const auto stopped = co_await context_.op.enough();
      if (!stopped) co_return stopped.error();
      co_return forced();
    }
    capture.states.push_back({newest_s_, newest_s_, static_cast<int>(state->committed)});
    state_open_ = true;
    co_return Result<void>{};
  }

  void take_events(const std::vector<phone::SensorEvent>& events) {
    std::optional<double> oldest, newest;
    for (const auto& e : events) {
      if (e.values.empty()) continue;
      events_.emplace(e.t_s, e.values.front());
      oldest = std::min(oldest.value_or(e.t_s), e.t_s);
      newest = std::max(newest.value_or(e.t_s), e.t_s);
    }
    if (!newest) return;
    overrun_ = !capture.polls.empty() && *oldest > newest_s_;
    if (capture.polls.empty() || *newest > newest_s_) capture.polls.push_back({*oldest, *newest});
    newest_s_ = std::max(newest_s_, *newest);
    if (state_open_) capture.states.back().before_s = newest_s_;
    state_open_ = false;
  }

  Context& context_;
  HingeSweep::Config config_;
  std::map<double, double> events_;
  double newest_s_ = 0;
  bool overrun_ = false, state_open_ = false, states_offered_ = false;
};
}  // namespace

awaitable<Result<HingeSweep::Capture>> HingeSweep::acquire(Context& context, Config config) const {
  Listener listener(context, config);
  const auto ready = co_await listener.check();
  if (!ready) co_return ready.error();

  Action cycles = FoldCycles{config.cycles};
  const auto swept =
      co_await listener.follow(std::move(cycles), kCycleBudget_s * config.cycles, 0, 0.6, "folding");
  if (!swept) co_return swept.error();
  listener.capture.cycles = *swept;
  if (listener.silent_since(swept->begin_s))
    co_return Error{ErrorCode::unsupported, "the hinge sensor showed no events: not exercised", "hinge",
                    "Open an app or a page that uses the fold and run the check again."};

  // The square is approached from both sides; the last move leaves the phone flat.
  const double order[] = {config.closed_deg, 90, config.flat_deg, 90, config.flat_deg};
  double at = config.flat_deg;
  for (std::size_t i = 0; i < std::size(order); ++i) {
    const double from = 0.6 + 0.08 * static_cast<double>(i);
    Action hold = HoldAtStop{order[i]};
    const auto window =
        co_await listener.follow(std::move(hold), kStopBudget_s, from, from + 0.08, "holding at a stop");
    if (!window) co_return window.error();
    listener.capture.stops.push_back(Stop{order[i], at, *window});
    at = order[i];
  }
  context.progress.step(1, "done");
  co_return listener.take();
}

}  // namespace hb::checks
