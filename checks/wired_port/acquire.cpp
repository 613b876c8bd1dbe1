// The only part that waits.
#include "checks/follow.hpp"
#include "checks/wired_port/wired_port.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
using net::milliseconds;
constexpr milliseconds kPoll{130};  // bench time
constexpr double kActionLimit_s = 90;
constexpr double kSafe_c = 48;          // well above any healthy charge: common practice, no source
constexpr int kSamplesAHealthLook = 8;  // about each second

class Plug {
 public:
  Plug(Context& context, const WiredPort::Config& config) : context_(context), config_(config) {}

  awaitable<Result<void>> check() {
    if (context_.phone.link().transport_kind() == "usb")
      co_return Error{ErrorCode::unsupported,
                      "the link is by the cable that this check has to unplug: run over TCP", "port", ""};
    const auto battery = co_await context_.phone.battery();
    if (!battery) co_return battery.error();
    if (battery->updates_stopped)
      co_return Error{ErrorCode::unsupported,
                      "the battery state is frozen on this phone; reset it and run again", "port", ""};
    if (battery->level_pct && *battery->level_pct >= config_.full_above_pct)
      co_return Error{ErrorCode::unsupported, "the battery is full: charge current cannot be judged", "port",
                      "Use the phone down to below 80 per cent and run again."};
    const auto thermal = co_await context_.phone.thermal();
    if (!thermal && thermal.error().code != ErrorCode::unsupported) co_return thermal.error();
    const bool hot = (thermal && thermal->skin_c && *thermal->skin_c >= config_.hot_above_c) ||
                     (battery->temperature_c && *battery->temperature_c >= config_.hot_above_c);
    if (hot) co_return Error{ErrorCode::unsupported, "phone too hot", "port", "Let it cool and run again."};
    const auto supply = co_await context_.phone.supply(config_.supply);
    if (!supply) co_return supply.error();
    if (!supply->online)
      co_return Error{ErrorCode::unsupported, "this phone does not show its charging port to the bench",
                      "port", ""};
    capture.level_pct = battery->level_pct.value_or(0);
    co_return Result<void>{};
  }

  /// Does a deed, sampling until it is done.
  awaitable<Result<void>> follow(Action action, int side, WiredPort::Stage stage) {
    Error late = not_done_in_time("port");
    co_return co_await follow_through(
        context_, std::move(action), seconds(kActionLimit_s), [=, this] { return sample(side, stage); },
        std::move(late));
  }

  awaitable<Result<void>> stay(int side, double for_s) {
    const auto until = context_.clock.now() + seconds(for_s);
    while (context_.clock.now() < until) {
      const auto sampled = co_await sample(side, WiredPort::Stage::still);
      if (!sampled) co_return sampled.error();
    }
    co_return Result<void>{};
  }

  /// Charging stops being looked on when the battery is too hot or says that it is not in health.
  awaitable<Result<void>> safe() {
    const auto battery = co_await context_.phone.battery();
    if (!battery) co_return battery.error();
    const bool hot = battery->temperature_c && *battery->temperature_c > kSafe_c;
    const bool ill = battery->health && *battery->health >= 3 && *battery->health <= 6;
    if (!hot && !ill) co_return Result<void>{};
    const auto stopped = co_await context_.op.enough();
    if (!stopped) co_return stopped.error();
    co_return Error{
        ErrorCode::safety,
        hot ? "the battery is too hot while charging by cable"
            : "the phone says that its battery is not in health",
        "port",
        "Pull the plug and let the phone lie. If a cell is swollen or anything smells: do not charge "
        "or press it, keep people away and follow the local rules for damaged cells."};
  }

  awaitable<Result<void>> speed(int side) {
    if (config_.udc.empty()) co_return Result<void>{};
    const auto mbit = co_await context_.phone.link_mbit_s(config_.udc);
    if (!mbit && mbit.error().code == ErrorCode::unsupported) co_return Result<void>{};
    if (!mbit) co_return mbit.error();
    capture.speeds.push_back({side, *mbit});
    co_return Result<void>{};
  }

  WiredPort::Capture capture;

 private:
  static net::BenchTime seconds(double s) {
    return std::chrono::duration_cast<net::BenchTime>(std::chrono::duration<double>(s));
  }
  awaitable<Result<void>> sample(int side, WiredPort::Stage stage) {
    const auto waited = co_await context_.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    const auto r = co_await context_.phone.supply(config_.supply);
    if (!r) co_return r.error();
    WiredPort::Sample s;
    s.t_s = r->uptime_s.value_or(std::chrono::duration<double>(context_.clock.now()).count());
    s.side = side, s.stage = stage;
    s.online = r->online.value_or(false);
    s.voltage_mv = r->voltage_mv, s.current_ma = r->current_ma, s.limit_ma = r->current_max_ma;
    capture.samples.push_back(s);
    if (capture.samples.size() % kSamplesAHealthLook != 0) co_return Result<void>{};
    co_return co_await safe();
  }

  Context& context_;
  WiredPort::Config config_;
};
}  // namespace

awaitable<Result<WiredPort::Capture>> WiredPort::acquire(Context& context, Config config) const {
  Plug plug(context, config);
  const auto ready = co_await plug.check();
  if (!ready) co_return ready.error();
  for (const int side : {1, 2}) {
    const double at = side == 1 ? 0.02 : 0.5;
    context.progress.step(at, "plugging in");
    Action in = PlugIn{side == 2};
    const auto plugged = co_await plug.follow(std::move(in), side, Stage::plugging);
    if (!plugged) co_return plugged.error();
    context.progress.step(at + 0.05, "charging by cable");
    const auto held = co_await plug.stay(side, config.hold_s);
    if (!held) co_return held.error();
    const auto asked = co_await plug.speed(side);
    if (!asked) co_return asked.error();
    context.progress.step(at + 0.3, "moving the plug");
    Action wiggle = WigglePlug{config.wiggle_s};
    const auto wiggled = co_await plug.follow(std::move(wiggle), side, Stage::wiggled);
    if (!wiggled) co_return wiggled.error();
  }
  Action out = Unplug{};
  const auto unplugging = co_await context.op.begin(std::move(out));
  if (!unplugging) co_return unplugging.error();
  const auto until = context.clock.now() + std::chrono::seconds(60);
  while (context.clock.now() < until) {
    const auto waited = co_await context.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    const auto done = co_await context.op.done();
    if (!done) co_return done.error();
    if (*done) break;
  }
  context.progress.step(1, "done");
  co_return std::move(plug.capture);
}

}  // namespace hb::checks
