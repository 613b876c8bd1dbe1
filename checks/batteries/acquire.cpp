// The only part that waits. Every sample is looked at before the next: see unsafe().
#include <algorithm>
#include <cmath>

#include "checks/batteries/batteries.hpp"
#include "harness/net/asio.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
using net::milliseconds;

constexpr double kOver_mv = 4500, kUnder_mv = 3000;  // Li-ion limits: common practice, from memory
constexpr double kNoReading_mv = 500;                // a gauge without a cell reads next to nothing

Error stop(const char* what, const std::string& part) {
  return {
      ErrorCode::safety, what, part,
      "The load was stopped. Unplug the phone and let it lie. If a cell is swollen, dented or punctured, or "
      "if anything smells or smokes: do not charge, press or carry it; keep people away and follow the local "
      "rules for damaged cells."};
}

/// Whether one reading asks for a stop. Health codes: AOSP BatteryHealth (3 overheat, 4 dead, 5 over voltage,
/// 6 failure).
std::optional<Error> unsafe(std::optional<double> temperature_c, std::optional<double> voltage_mv,
                            std::optional<int> health, double hot_stop_c, const std::string& part) {
  if (temperature_c && *temperature_c > hot_stop_c) return stop("the battery is too hot", part);
  if (voltage_mv && *voltage_mv > kOver_mv) return stop("the battery voltage is too high", part);
  if (voltage_mv && *voltage_mv<kUnder_mv&& * voltage_mv> kNoReading_mv)
    return stop("the battery voltage is too low for a load", part);
  if (health == 3) return stop("the phone says that its battery overheats", part);
  if (health == 4) return stop("the phone says that its battery is dead", part);
  if (health == 5) return stop("the phone says that its battery has too high a voltage", part);
  if (health == 6) return stop("the phone says that its battery has failed", part);
  return std::nullopt;
}

class Sampler {
 public:
  Sampler(Context& context, const Batteries::Config& config) : context_(context), config_(config) {
    capture.cells.resize(config.cells.size());
  }

  awaitable<Result<void>> check() {
    const auto thermal = co_await context_.phone.thermal();
    if (!thermal && thermal.error().code != ErrorCode::unsupported) co_return thermal.error();
    if (thermal && thermal->forced)
      co_return Error{ErrorCode::unsupported,
                      "the thermal state is forced on this phone; clear the override and run again",
                      "battery", ""};
    if (thermal && thermal->skin_c && *thermal->skin_c > config_.hot_stop_c)
      co_return Error{ErrorCode::unsupported, "the phone is too hot for a load test", "battery",
                      "Let it cool and run the check again."};
    for (std::size_t i = 0; i < config_.cells.size(); ++i) {
      const auto cell = co_await context_.phone.cell(config_.cells[i].supply);
      if (!cell && cell.error().code != ErrorCode::unsupported) co_return cell.error();
      capture.cells[i].readable = cell && cell->readable;
    }
    co_return Result<void>{};
  }

  /// Samples for `seconds` of the phone's time, about once a second.
  awaitable<Result<void>> phase(int number, double seconds, double from, double to, Term doing) {
    std::optional<double> begin_s;
    const int most = 2 * static_cast<int>(std::ceil(seconds)) + 2;
    for (int k = 0; k < most; ++k) {
      const auto start = context_.clock.now();
      const auto sampled = co_await sample(number);
      if (!sampled) co_return sampled.error();
      if (!begin_s) begin_s = *sampled;
      const double elapsed_s = *sampled - *begin_s;
      context_.progress.step(from + (to - from) * std::clamp(elapsed_s / seconds, 0.0, 1.0), doing);
      if (elapsed_s >= seconds) break;
      const auto used = std::chrono::duration_cast<milliseconds>(context_.clock.now() - start);
      const auto waited = co_await context_.clock.wait(std::max(milliseconds{50}, milliseconds{1000} - used));
      if (!waited) co_return waited.error();
    }
    co_return Result<void>{};
  }

  /// The phone's clock, or the bench's where the phone's battery readings carry none.
  awaitable<Result<double>> now_s() {
    if (!phone_time_) co_return bench_s();
    co_return co_await context_.phone.uptime_s();
  }

  Batteries::Capture capture;

 private:
  [[nodiscard]] double bench_s() const { return std::chrono::duration<double>(context_.clock.now()).count(); }
  [[nodiscard]] double stamp(const std::optional<double>& uptime_s) const {
    return phone_time_ && uptime_s ? *uptime_s : bench_s();
  }

  awaitable<Result<double>> sample(int number) {
    const auto battery = co_await context_.phone.battery();
    if (!battery) co_return battery.error();
    if (battery->updates_stopped)
      co_return Error{ErrorCode::unsupported,
                      "the battery readings are frozen on this phone; reset them and run again", "battery",
                      ""};
    if (auto e = unsafe(battery->temperature_c, battery->voltage_mv, battery->health, config_.hot_stop_c, ""))
      co_return *std::move(e);
    if (first_) phone_time_ = battery->uptime_s.has_value();
    first_ = false;
    const double t_s = stamp(battery->uptime_s);
    if (!phone_time_ || battery->uptime_s) take(*battery, t_s, number);
    for (std::size_t i = 0; i < config_.cells.size(); ++i) {
      if (!capture.cells[i].readable) continue;
      const auto cell = co_await context_.phone.cell(config_.cells[i].supply);
      if (!cell) co_return cell.error();
      const bool there = cell->present.value_or(true);
      if (there)
        if (auto e = unsafe(cell->temperature_c, cell->voltage_mv, std::nullopt, config_.hot_stop_c,
                            config_.cells[i].name.str()))
          co_return *std::move(e);
      if (!phone_time_ || cell->uptime_s) take(*cell, capture.cells[i], stamp(cell->uptime_s), number);
    }
    co_return t_s;
  }

  /// A clock that stands still gives one sample, not many at one time.
  static bool later(const Batteries::Trace& c, double t_s) {
    return c.samples.empty() || t_s > c.samples.back().t_s;
  }
  void take(const phone::BatteryReading& r, double t_s, int number) {
    auto& c = capture.combined;
    c.readable = true;
    if (r.present) c.present = c.present.value_or(true) && *r.present;
    if (!later(c, t_s)) return;
    c.samples.push_back({t_s, number, r.voltage_mv, std::nullopt, r.temperature_c, r.charge_counter_mah,
                         r.level_pct, r.status ? static_cast<int>(*r.status) : 0});
  }
  static void take(const phone::CellReading& r, Batteries::Trace& c, double t_s, int number) {
    if (r.present) c.present = c.present.value_or(true) && *r.present;
    if (r.charge_full_mah) c.full_mah = r.charge_full_mah;
    if (r.charge_full_design_mah) c.design_mah = r.charge_full_design_mah;
    if (!later(c, t_s)) return;
    c.samples.push_back({t_s, number, r.voltage_mv, r.current_ma, r.temperature_c, r.charge_counter_mah,
                         r.capacity_pct, r.status ? static_cast<int>(*r.status) : 0});
  }

  Context& context_;
  Batteries::Config config_;
  bool first_ = true, phone_time_ = false;
};

/// From the start of the load to its end. Whatever happens, the caller stops the load afterwards.
awaitable<Result<void>> loaded(Sampler& sampler, const Batteries::Config& config) {
  const auto on_s = co_await sampler.now_s();
  if (!on_s) co_return on_s.error();
  sampler.capture.load_on_s = *on_s;
  co_return co_await sampler.phase(1, config.load_s, 0.33, 0.66, "load");
}
}  // namespace

awaitable<Result<Batteries::Capture>> Batteries::acquire(Context& context, Config config) const {
  Sampler sampler(context, config);
  const auto ready = co_await sampler.check();
  if (!ready) co_return ready.error();
  const auto rested = co_await sampler.phase(0, config.rest_s, 0, 0.33, "rest");
  if (!rested) co_return rested.error();

  // The loops end by themselves too, so that a pulled cable or a cancelled run leaves no load behind.
  const int seconds = std::min(60, static_cast<int>(std::ceil(1.3 * config.load_s)) + 5);
  const auto started = co_await context.phone.start_load(seconds, config.load_workers);
  Result<void> under_load = started;
  if (started) under_load = co_await loaded(sampler, config);
  const auto stopped = co_await context.phone.stop_load();
  if (!under_load) co_return under_load.error();
  if (!stopped) co_return stopped.error();
  const auto off_s = co_await sampler.now_s();
  if (!off_s) co_return off_s.error();
  sampler.capture.load_off_s = *off_s;

  const auto again = co_await sampler.phase(2, config.rest_s, 0.66, 1, "rest");
  if (!again) co_return again.error();
  co_return std::move(sampler.capture);
}

}  // namespace hb::checks
