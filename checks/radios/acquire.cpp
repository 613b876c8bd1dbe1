// The only part that waits.
#include "checks/follow.hpp"
#include "checks/radios/radios.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
constexpr net::milliseconds kPoll{400};  // bench time
/// A SIM that was just put in takes some seconds to be read, and the phone some more to hear a network.
constexpr auto kSettle = std::chrono::seconds(20);

class Listener {
 public:
  Listener(Context& context, Radios::Config config) : context_(context), config_(config) {}

  awaitable<Result<Radios::Capture>> run() {
    if (config_.mobile) {
      context_.progress.step(0, "waiting for the SIM");
      const auto settled = co_await settle();
      if (!settled) co_return settled.error();
    }
    for (int i = 0; i < config_.readings; ++i) {
      context_.progress.step(static_cast<double>(i) / config_.readings, "reading the radios");
      const auto taken = co_await take(i == 0 || i + 1 == config_.readings);
      if (!taken) co_return taken.error();
      const auto waited = co_await context_.clock.wait(kPoll);
      if (!waited) co_return waited.error();
    }
    context_.progress.step(1, "done");
    co_return std::move(capture_);
  }

 private:
  /// nullopt: no eyes to ask.
  awaitable<Result<std::optional<bool>>> ask(Inspection inspection) {
    Question question{inspection, {}};
    const auto answer = co_await context_.op.observe(std::move(question));
    if (!answer && answer.error().code != ErrorCode::unsupported) co_return answer.error();
    co_return answer ? std::optional(*answer >= 0.5) : std::nullopt;
  }

  /// Waits until a SIM is loaded and a network heard. Of a phone that reads no SIM it is asked, once, whether
  /// one is in: to have none is no fault.
  awaitable<Result<void>> settle() {
    auto until = context_.clock.now() + kSettle;
    bool asked = false;
    do {
      const Radios::Reading blank;
      const auto r = co_await mobile(blank);
      if (!r) co_return r.error();
      if (!tells_sims_ || (r->sims_loaded.value_or(0) > 0 && (r->lte_dbm || r->nr_dbm))) break;
      if (r->sims_read == 0 && !asked) {
        const auto in = co_await ask(Inspection::sim_in);
        if (!in) co_return in.error();
        capture_.sim_is_in = *in;
        if (!in->value_or(false)) break;
        asked = true;
        until = context_.clock.now() + kSettle;
      }
      const auto waited = co_await context_.clock.wait(kPoll);
      if (!waited) co_return waited.error();
    } while (context_.clock.now() < until);
    co_return Result<void>{};
  }

  awaitable<Result<Radios::Reading>> mobile(Radios::Reading r) {
    const auto sim = co_await context_.phone.sim();
    if (!sim && ends_the_check(sim.error())) co_return sim.error();
    tells_sims_ = sim.has_value();
    if (sim && sim->told > 0) r.sims_read = sim->read, r.sims_loaded = sim->loaded;
    const auto heard = co_await context_.phone.mobile();
    if (!heard && ends_the_check(heard.error())) co_return heard.error();
    if (heard) r.lte_dbm = heard->lte_dbm, r.nr_dbm = heard->nr_dbm;
    co_return r;
  }

  awaitable<Result<Radios::Reading>> near_field(Radios::Reading r) {
    const auto nfc = co_await context_.phone.nfc();
    if (!nfc && ends_the_check(nfc.error())) co_return nfc.error();
    if (nfc) r.nfc_up = nfc->up;
    if (r.nfc_up != false || capture_.nfc_is_on) co_return r;
    const auto on = co_await ask(Inspection::nfc_on);  // the platform does not tell its switch
    if (!on) co_return on.error();
    capture_.nfc_is_on = *on;
    co_return r;
  }

  awaitable<Result<void>> take(bool with_nfc) {
    Radios::Reading r;
    const auto wifi = co_await context_.phone.wifi();
    if (!wifi && wifi.error().code != ErrorCode::unsupported) co_return wifi.error();
    if (wifi) r.wifi_switched_on = wifi->switched_on, r.wifi_up = wifi->up, r.wifi_dbm = wifi->level_dbm;
    if (config_.bluetooth) {
      const auto bluetooth = co_await context_.phone.bluetooth();
      if (!bluetooth && bluetooth.error().code != ErrorCode::unsupported) co_return bluetooth.error();
      if (bluetooth) r.bluetooth_switched_on = bluetooth->switched_on, r.bluetooth_up = bluetooth->up;
    }
    if (!r.wifi_up && !r.bluetooth_up)
      co_return Error{ErrorCode::unsupported, "this phone reports the state of no radio", "radios", ""};
    if (config_.mobile) {
      const auto with = co_await mobile(r);
      if (!with) co_return with.error();
      r = *with;
    }
    if (config_.nfc && with_nfc) {
      const auto with = co_await near_field(r);
      if (!with) co_return with.error();
      r = *with;
    }
    capture_.readings.push_back(r);
    co_return Result<void>{};
  }

  Context& context_;
  Radios::Config config_;
  Radios::Capture capture_;
  bool tells_sims_ = true;
};
}  // namespace

awaitable<Result<Radios::Capture>> Radios::acquire(Context& context, Config config) const {
  Listener listener(context, config);
  co_return co_await listener.run();
}

}  // namespace hb::checks
