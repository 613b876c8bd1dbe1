/// Devices as libusb lists them: which are phones, where they are plugged in, and opening one.
/// Threads: any, each with its own context.
#pragma once

#include <libusb.h>

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "harness/link/detail/usb_pipe.hpp"
#include "harness/link/link.hpp"

namespace hb::link::detail {

template <auto Free>
struct Freer {
  template <class T>
  void operator()(T* p) const noexcept {
    Free(p);
  }
};
using Context = std::unique_ptr<libusb_context, Freer<libusb_exit>>;
using Device = std::unique_ptr<libusb_device, Freer<libusb_unref_device>>;
using Handle = std::unique_ptr<libusb_device_handle, Freer<libusb_close>>;

/// unsupported: this computer gives no USB access at all.
[[nodiscard]] Result<Context> make_context();

/// A phone on USB. The context that it came from must outlive it.
struct Candidate {
  Device device;
  UsbInterface where;
  UsbPlace place;
};
[[nodiscard]] std::optional<Candidate> as_phone(libusb_device* device);
[[nodiscard]] std::vector<Candidate> candidates(libusb_context* context);

[[nodiscard]] Result<Handle> open_device(libusb_device* device);
/// Opens and claims. `serial` is compared in memory only; another serial is not_found.
[[nodiscard]] Result<Handle> claim(const Candidate& c, const std::optional<std::string>& serial);
/// See link::UsbPhone.
[[nodiscard]] std::string serial_tail(const Candidate& c);
/// Opens, claims and gives back at once.
[[nodiscard]] UsbAccess probe(const Candidate& c);
}  // namespace hb::link::detail
