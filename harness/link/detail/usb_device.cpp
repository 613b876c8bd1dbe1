#include "harness/link/detail/usb_device.hpp"

#include <fmt/format.h>
#include <sodium.h>

#include <algorithm>
#include <array>

namespace hb::link::detail {
namespace {
constexpr std::uint8_t kSubclass = 0x42, kProtocol = 0x01;
using Config = std::unique_ptr<libusb_config_descriptor, Freer<libusb_free_config_descriptor>>;

/// As the kernel names the port: bus, then the ports on the way from the root hub.
UsbPlace place_of(libusb_device* device) {
  std::array<std::uint8_t, 8> ports{};
  const int n = libusb_get_port_numbers(device, ports.data(), static_cast<int>(ports.size()));
  UsbPlace p;
  p.port = std::to_string(libusb_get_bus_number(device));
  for (int i = 0; i < n; ++i)
    p.port += fmt::format("{}{}", i == 0 ? '-' : '.', ports[static_cast<std::size_t>(i)]);
  p.address = libusb_get_device_address(device);
  return p;
}

/// Shows the serial to `look` and overwrites it; empty when there is none.
template <class Look>
auto with_serial(libusb_device* device, libusb_device_handle* handle, Look look) {
  std::array<unsigned char, 256> text{};
  libusb_device_descriptor d{};
  int n = 0;
  if (libusb_get_device_descriptor(device, &d) == 0 && d.iSerialNumber != 0)
    n = libusb_get_string_descriptor_ascii(handle, d.iSerialNumber, text.data(),
                                           static_cast<int>(text.size()));
  auto seen = look(as_text(ByteView(text.data(), n > 0 ? static_cast<std::size_t>(n) : 0)));
  sodium_memzero(text.data(), text.size());
  return seen;
}

/// As the phone's own serial is cut (harness/phone), so that both show the same.
std::string tail_of(std::string_view serial) {
  std::string letters;
  for (const char c : serial)
    if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z'))
      letters += c;
    else if (c >= 'a' && c <= 'z')
      letters += static_cast<char>(c - 'a' + 'A');
  const auto keep = std::min<std::size_t>(4, letters.size() / 2);
  auto tail = letters.substr(letters.size() - keep);
  sodium_memzero(letters.data(), letters.size());
  return tail;
}

/// Auto-detach: a kernel driver that sits on the interface makes room.
int claim_interface(libusb_device_handle* handle, const UsbInterface& where) {
  libusb_set_auto_detach_kernel_driver(handle, 1);
  return libusb_claim_interface(handle, where.number);
}
}  // namespace

Result<Context> make_context() {
  libusb_context* c = nullptr;
  if (libusb_init(&c) == 0) return Context(c);
  return Error{ErrorCode::unsupported, "this computer gives no access to its USB ports", "usb",
               "Check that USB is present and that /dev/bus/usb can be read."};
}

std::optional<Candidate> as_phone(libusb_device* device) {
  libusb_config_descriptor* raw = nullptr;
  if (libusb_get_active_config_descriptor(device, &raw) != 0 &&
      libusb_get_config_descriptor(device, 0, &raw) != 0)
    return std::nullopt;
  const Config config(raw);
  const auto where = find_debug_interface(*config);
  if (!where) return std::nullopt;
  Candidate c;
  c.device.reset(libusb_ref_device(device));
  c.where = *where;
  c.place = place_of(device);
  return c;
}

std::vector<Candidate> candidates(libusb_context* context) {
  std::vector<Candidate> out;
  libusb_device** list = nullptr;
  const auto n = libusb_get_device_list(context, &list);
  for (ssize_t i = 0; i < n; ++i)
    if (auto c = as_phone(list[i])) out.push_back(std::move(*c));
  if (n >= 0) libusb_free_device_list(list, 1);
  return out;
}

Result<Handle> open_device(libusb_device* device) {
  libusb_device_handle* h = nullptr;
  if (const int rc = libusb_open(device, &h); rc != 0) return usb_error(rc);
  return Handle(h);
}

Result<Handle> claim(const Candidate& c, const std::optional<std::string>& serial) {
  auto handle = open_device(c.device.get());
  if (!handle) return handle.error();
  if (serial && !with_serial(c.device.get(), handle->get(), [&](std::string_view s) { return s == *serial; }))
    return usb_error(LIBUSB_ERROR_NOT_FOUND);
  int rc = claim_interface(handle->get(), c.where);
  if (rc == 0 && c.where.alternate != 0)
    rc = libusb_set_interface_alt_setting(handle->get(), c.where.number, c.where.alternate);
  if (rc != 0) return usb_error(rc);
  for (const auto endpoint : {c.where.in, c.where.out})  // a former user may have left the data toggle odd
    static_cast<void>(libusb_clear_halt(handle->get(), endpoint));
  return handle;
}

std::string serial_tail(const Candidate& c) {
  const auto handle = open_device(c.device.get());
  if (!handle) return {};
  return with_serial(c.device.get(), handle->get(), [](std::string_view s) { return tail_of(s); });
}

UsbAccess probe(const Candidate& c) {
  libusb_device_handle* raw = nullptr;
  const int opened = libusb_open(c.device.get(), &raw);
  if (opened == LIBUSB_ERROR_ACCESS) return UsbAccess::denied;
  if (opened != 0) return UsbAccess::gone;
  const Handle handle(raw);
  const int claimed = claim_interface(raw, c.where);
  if (claimed == LIBUSB_ERROR_BUSY) return UsbAccess::busy;
  if (claimed != 0) return UsbAccess::gone;
  libusb_release_interface(raw, c.where.number);
  return UsbAccess::free;
}

std::optional<UsbInterface> find_debug_interface(const libusb_config_descriptor& config) {
  for (int i = 0; i < config.bNumInterfaces; ++i) {
    const auto& all = config.interface[i];
    for (int a = 0; a < all.num_altsetting; ++a) {
      const auto& d = all.altsetting[a];
      if (d.bInterfaceClass != LIBUSB_CLASS_VENDOR_SPEC || d.bInterfaceSubClass != kSubclass ||
          d.bInterfaceProtocol != kProtocol)
        continue;
      UsbInterface found;
      found.number = d.bInterfaceNumber;
      found.alternate = d.bAlternateSetting;
      for (int e = 0; e < d.bNumEndpoints; ++e) {
        const auto& end = d.endpoint[e];
        if ((end.bmAttributes & LIBUSB_TRANSFER_TYPE_MASK) != LIBUSB_TRANSFER_TYPE_BULK) continue;
        const bool in = (end.bEndpointAddress & LIBUSB_ENDPOINT_DIR_MASK) != 0;
        (in ? found.in : found.out) = end.bEndpointAddress;
        (in ? found.max_packet_in : found.max_packet_out) = end.wMaxPacketSize & 0x7ffu;
      }
      if (found.max_packet_in > 0 && found.max_packet_out > 0) return found;
    }
  }
  return std::nullopt;
}

Error usb_error(int code) {
  switch (code) {
    case LIBUSB_ERROR_ACCESS:
      return Error{
          ErrorCode::refused, "this user may not open the phone's USB interface", "usb",
          "Add a udev rule: SUBSYSTEM==\"usb\", ENV{ID_USB_INTERFACES}==\"*:ff4201:*\", TAG+=\"uaccess\" "
          "(file /etc/udev/rules.d/60-handback.rules); then run udevadm control --reload and plug in again."};
    case LIBUSB_ERROR_BUSY:
      return Error{ErrorCode::refused, "another debug-link server on this computer holds the phone", "usb",
                   "Stop it (adb kill-server, or quit the program that started it) and try again."};
    case LIBUSB_ERROR_NO_DEVICE:
      return Error{ErrorCode::link_lost, "the phone was unplugged", "usb", "Plug the cable in again."};
    case LIBUSB_ERROR_NOT_FOUND:
      return Error{ErrorCode::not_found, "no phone with USB debugging is plugged in", "usb",
                   "Plug the phone in with a data cable and turn USB debugging on."};
    default:
      return Error{ErrorCode::io, std::string("USB: ") + libusb_strerror(code), "usb",
                   "Unplug the cable, plug it in again; try another cable or port."};
  }
}
}  // namespace hb::link::detail
