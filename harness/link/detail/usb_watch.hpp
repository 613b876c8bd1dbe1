/// UsbWatch with a choice that tests make: as if libusb had no notices.
#pragma once

#include "harness/link/link.hpp"

namespace hb::link::detail {
[[nodiscard]] Result<std::unique_ptr<UsbWatch>> watch_usb(const net::asio::any_io_executor& executor,
                                                          bool notices);
}  // namespace hb::link::detail
