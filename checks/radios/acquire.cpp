// The only part that waits.
#include "checks/radios/radios.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
constexpr net::milliseconds kPoll{400};  // bench time
}

net::awaitable<Result<Radios::Capture>> Radios::acquire(Context& context, Config config) const {
  Capture capture;
  for (int i = 0; i < config.readings; ++i) {
    context.progress.step(static_cast<double>(i) / config.readings, "reading the radios");
    Reading r;
    const auto wifi = co_await context.phone.wifi();
    if (!wifi && wifi.error().code != ErrorCode::unsupported) co_return wifi.error();
    if (wifi) r.wifi_switched_on = wifi->switched_on, r.wifi_up = wifi->up, r.wifi_dbm = wifi->level_dbm;
    if (config.bluetooth) {
      const auto bluetooth = co_await context.phone.bluetooth();
      if (!bluetooth && bluetooth.error().code != ErrorCode::unsupported) co_return bluetooth.error();
      if (bluetooth) r.bluetooth_switched_on = bluetooth->switched_on, r.bluetooth_up = bluetooth->up;
    }
    if (!r.wifi_up && !r.bluetooth_up)
      co_return Error{ErrorCode::unsupported, "this phone reports the state of no radio", "radios", ""};
    capture.readings.push_back(r);
    const auto waited = co_await context.clock.wait(kPoll);
    if (!waited) co_return waited.error();
  }
  context.progress.step(1, "done");
  co_return capture;
}

}  // namespace hb::checks
