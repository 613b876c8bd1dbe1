/// A bus with a phone on it: the stand-in's daemon on a thread of its own, behind a mock device.
#pragma once

#include "harness/link/detail/usb_device.hpp"
#include "phone_thread.hpp"
#include "tests/link/usb/mock_bus.hpp"

namespace hb::test {

/// How many phones libusb lists.
inline std::size_t phones_on_bus() {
  const auto context = link::detail::make_context().value();
  return link::detail::candidates(context.get()).size();
}

class OnUsb : public testing::Test {
 protected:
  using LinkPtr = std::shared_ptr<link::Link>;
  MockDevice& plug_in(DeviceSpec spec = phone_spec()) { return bus.plug(spec, phone.port()); }
  static net::awaitable<Result<LinkPtr>> connect_to(std::optional<std::string> serial, link::LinkOptions o) {
    auto transport = co_await link::connect_usb(std::move(serial), 10s);
    if (!transport) co_return transport.error();
    co_return co_await link::Link::open(std::move(*transport), bench_key(), std::move(o));
  }
  Result<LinkPtr> open(std::optional<std::string> serial = std::nullopt, link::LinkOptions o = {}) {
    return run(io, connect_to(std::move(serial), std::move(o)));
  }
  Result<link::ShellOutput> shell(link::Link& l, std::string command) {
    return run(io, l.shell(std::move(command), 30s, 4u << 20));
  }

  PhoneThread phone;
  MockBus bus;
  net::io_context io;
};
}  // namespace hb::test
