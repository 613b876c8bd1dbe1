/// A kernel with dummy_hcd's two ports and a phone to plug into the first.
#pragma once

#include "../link/usb/phone_thread.hpp"
#include "tests/support/process.hpp"
#include "usb_phone.hpp"

namespace hb::test {

/// Nothing is plugged in before and after; every arrival and departure is awaited by notices.
class OnKernel : public testing::Test {
 protected:
  using LinkPtr = std::shared_ptr<link::Link>;
  using UsbPlace = link::UsbPlace;

  OnKernel() : watch(link::UsbWatch::start(io.get_executor()).value()) {}
  /// What comes or goes next. Nothing within ten seconds is an error.
  Result<link::UsbWatch::Change> next(net::milliseconds deadline = 10s) {
    return run(io, watch->next(deadline));
  }
  UsbPlace plug_in(UsbPhone& p) {
    p.plug();
    const auto change = next();
    EXPECT_TRUE(change && change->arrived);
    if (!change) return {};
    const char* wanted = std::getenv("HB_GUEST_SPEED");
    const auto speed = slurp("/sys/bus/usb/devices/" + change->place.port + "/speed");
    EXPECT_EQ(speed, std::string(wanted != nullptr ? wanted : "480") + "\n");
    return change->place;
  }
  void pull_out(UsbPhone& p) {
    p.unplug();
    const auto change = next();
    EXPECT_TRUE(change && !change->arrived);
  }
  static net::awaitable<Result<LinkPtr>> connect_to(std::optional<std::string> serial, link::LinkOptions o) {
    auto transport = co_await link::connect_usb(std::move(serial), 10s);
    if (!transport) co_return transport.error();
    co_return co_await link::Link::open(std::move(*transport), bench_key(), std::move(o));
  }
  Result<LinkPtr> open(std::optional<std::string> serial = std::nullopt, link::LinkOptions o = {}) {
    return run(io, connect_to(std::move(serial), std::move(o)));
  }
  Result<link::ShellOutput> shell(link::Link& l, std::string command) {
    return run(io, l.shell(std::move(command), 30s, 32u << 20));
  }
  void TearDown() override {
    device.reset();
    for (auto c = next(0ms); c; c = next(0ms)) continue;
  }

  net::io_context io;
  std::unique_ptr<link::UsbWatch> watch;
  PhoneThread phone;
  std::unique_ptr<UsbPhone> device = std::make_unique<UsbPhone>(0, phone_spec(), phone.port());
};
}  // namespace hb::test
