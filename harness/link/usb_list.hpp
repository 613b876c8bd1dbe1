/// Which phones are plugged in, told apart by what a person may see.
#pragma once

#include <string>
#include <vector>

#include "harness/link/link.hpp"

namespace hb::link {

/// `tail`: the last characters of the USB serial number: at most four capital letters and digits, never more
/// than half of it; empty when this user may not open the phone. The serial itself stays in the function that
/// reads it.
struct UsbPhone {
  UsbPlace place;
  std::string tail;
};
/// Opens each for a moment without taking it; blocks for some milliseconds. Threads: any.
[[nodiscard]] std::vector<UsbPhone> list_usb();
}  // namespace hb::link
