// The only part that waits.
#include <algorithm>

#include "checks/wireless_charging/wireless_charging.hpp"
#include "harness/net/asio.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
using net::milliseconds;
using Sample = WirelessCharging::Sample;

constexpr milliseconds kPoll{500};
constexpr double kSafe_c = 48;  // well above any healthy charge: common practice, no source (JEITA T3 is 45)
constexpr double kActionBudget_s = 60, kAfterShift_s = 10;

class Pad {
 public:
  Pad(Context& context, const WirelessCharging::Config& config) : context_(context), config_(config) {}

  awaitable<Result<void>> check() {
    if (context_.phone.link().transport_kind() == "usb")
      co_return Error{
          ErrorCode::unsupported,
          "the link is by cable, and a phone with a cable in does not charge from the pad: run over "
          "TCP",
          "wireless", ""};
    const auto thermal = co_await context_.phone.thermal();
    if (!thermal && thermal.error().code != ErrorCode::unsupported) co_return thermal.error();
    if (thermal && thermal->forced)
      co_return Error{ErrorCode::unsupported,
                      "the thermal state is forced on this phone; clear the override and run again",
                      "wireless", ""};
    const auto battery = co_await context_.phone.battery();
    if (!battery) co_return battery.error();
    if (battery->updates_stopped) co_return frozen();
    if (!battery->wireless)
      co_return Error{ErrorCode::unsupported, "this phone does not say whether it is charged by a coil",
                      "wireless", ""};
    if (battery->level_pct && *battery->level_pct >= config_.full_above_pct)
      co_return Error{ErrorCode::unsupported, "the battery is full: charge current cannot be judged",
                      "wireless", "Use the phone down to below 80 per cent and run again."};
    const bool hot = (thermal && thermal->skin_c && *thermal->skin_c >= config_.hot_above_c) ||
                     (battery->temperature_c && *battery->temperature_c >= config_.hot_above_c);
    if (hot)
      co_return Error{ErrorCode::unsupported, "phone too hot", "wireless", "Let it cool and run again."};
    phone_time_ = battery->uptime_s.has_value();
    co_return Result<void>{};
  }

  /// Does a deed, sampling until it is done.
  awaitable<Result<void>> follow(Action action, int stage, double fraction, Term doing) {
    const auto begun = co_await context_.op.begin(std::move(action));
    if (!begun) co_return begun.error();
    for (double waited_s = 0; waited_s < kActionBudget_s; waited_s += 0.5) {
      const auto sampled = co_await step(stage);
      if (!sampled) co_return sampled.error();
      context_.progress.step(fraction, doing);
      const auto done = co_await context_.op.done();
      if (!done) co_return done.error();
      if (*done) co_return Result<void>{};
    }
    const auto stopped = co_await context_.op.enough();
    if (!stopped) co_return stopped.error();
    co_return Error{ErrorCode::timed_out, "the phone was not moved as asked in time", "wireless",
                    "Run the check again and follow the prompts."};
  }

  /// Samples for `seconds` of the phone's time, or until a sample reports wireless power when asked to.
  awaitable<Result<void>> stay(int stage, double seconds, bool until_coupled, double from, double to,
                               Term doing) {
    const double begin_s = last_s();
    const int most = static_cast<int>(4 * seconds) + 4;
    for (int k = 0; k < most; ++k) {
      if (until_coupled && !capture.samples.empty() && capture.samples.back().wireless) break;
      const double elapsed_s = last_s() - begin_s;
      if (elapsed_s >= seconds) break;
      const auto sampled = co_await step(stage);
      if (!sampled) co_return sampled.error();
      context_.progress.step(from + (to - from) * std::clamp(elapsed_s / seconds, 0.0, 1.0), doing);
    }
    co_return Result<void>{};
  }

  [[nodiscard]] double last_s() const { return capture.samples.empty() ? 0 : capture.samples.back().t_s; }
  [[nodiscard]] double before_last_s() const {
    return capture.samples.size() < 2 ? last_s() : capture.samples[capture.samples.size() - 2].t_s;
  }

  WirelessCharging::Capture capture;

 private:
  static Error frozen() {
    return {ErrorCode::unsupported, "the battery readings are frozen on this phone; reset them and run again",
            "wireless", ""};
  }

  awaitable<Result<void>> step(int stage) {
    const auto waited = co_await context_.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    const auto battery = co_await context_.phone.battery();
    if (!battery) co_return battery.error();
    if (battery->updates_stopped) co_return frozen();
    const bool hot = battery->temperature_c && *battery->temperature_c > kSafe_c;
    if (hot || (battery->health && *battery->health >= 3 && *battery->health <= 6)) {
      const auto stopped = co_await context_.op.enough();
      if (!stopped) co_return stopped.error();
      co_return Error{
          ErrorCode::safety,
          hot ? "the battery is too hot on the pad" : "the phone says that its battery is not in health",
          "wireless",
          "Lift the phone from the pad and let it lie. If a cell is swollen or anything smells: do not "
          "charge or press it, keep people away and follow the local rules for damaged cells."};
    }
    if (phone_time_ && !battery->uptime_s) co_return Result<void>{};
    Sample s;
    s.t_s = phone_time_ ? *battery->uptime_s : std::chrono::duration<double>(context_.clock.now()).count();
    if (!capture.samples.empty() && s.t_s <= last_s()) co_return Result<void>{};
    s.stage = stage;
    s.wireless = battery->wireless.value_or(false);
    s.cable = battery->usb.value_or(false) || battery->ac.value_or(false) || battery->dock.value_or(false);
    s.voltage_mv = battery->voltage_mv;
    s.counter_mah = battery->charge_counter_mah;
    s.temperature_c = battery->temperature_c;
    s.level_pct = battery->level_pct;
    if (battery->status) s.status = static_cast<int>(*battery->status);
    const auto current = co_await pack_current_ma();
    if (!current) co_return current.error();
    s.current_ma = *current;
    capture.samples.push_back(std::move(s));
    co_return Result<void>{};
  }

  awaitable<Result<std::optional<double>>> pack_current_ma() {
    std::optional<double> sum;
    if (!cells_readable_) co_return sum;
    for (const auto& supply : config_.supplies) {
      const auto cell = co_await context_.phone.cell(supply);
      if (!cell && cell.error().code != ErrorCode::unsupported) co_return cell.error();
      const bool absent = cell && cell->present && !*cell->present;
      if (absent) continue;
      if (!cell || !cell->readable || !cell->current_ma) {
        cells_readable_ = false;
        co_return std::optional<double>{};
      }
      sum = sum.value_or(0) + *cell->current_ma;
    }
    co_return sum;
  }

  Context& context_;
  WirelessCharging::Config config_;
  bool phone_time_ = false, cells_readable_ = true;
};

awaitable<Result<void>> on_the_pad(Pad& pad, const WirelessCharging::Config& config) {
  Action place = PlaceOnPad{};
  const auto placed = co_await pad.follow(std::move(place), 0, 0.02, "placing on the pad");
  if (!placed) co_return placed.error();
  pad.capture.placed_s = pad.last_s();
  pad.capture.place_u_s = (pad.last_s() - pad.before_last_s()) / 2;
  const auto coupled = co_await pad.stay(0, config.couple_max_s, true, 0.02, 0.15, "coupling");
  if (!coupled) co_return coupled.error();
  if (pad.capture.samples.empty() || !pad.capture.samples.back().wireless) co_return Result<void>{};

  const auto held = co_await pad.stay(1, config.hold_s, false, 0.15, 0.75, "charging");
  if (!held) co_return held.error();
  Action shift = ShiftOnPad{config.shift_mm};
  const auto shifted = co_await pad.follow(std::move(shift), 2, 0.76, "shifting");
  if (!shifted) co_return shifted.error();
  co_return co_await pad.stay(3, kAfterShift_s, false, 0.76, 0.95, "charging off centre");
}
}  // namespace

awaitable<Result<WirelessCharging::Capture>> WirelessCharging::acquire(Context& context,
                                                                       Config config) const {
  Pad pad(context, config);
  const auto ready = co_await pad.check();
  if (!ready) co_return ready.error();
  const auto charged = co_await on_the_pad(pad, config);
  if (!charged) co_return charged.error();

  Action lift = LiftFromPad{};
  const auto lifting = co_await context.op.begin(std::move(lift));
  if (!lifting) co_return lifting.error();
  for (double waited_s = 0; waited_s < kActionBudget_s; waited_s += 0.5) {
    const auto waited = co_await context.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    const auto done = co_await context.op.done();
    if (!done) co_return done.error();
    if (*done) break;
  }
  context.progress.step(1, "done");
  co_return std::move(pad.capture);
}

}  // namespace hb::checks
