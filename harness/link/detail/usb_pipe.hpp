/// The two bulk endpoints of a phone's debug interface, and what libusb's words mean for us. The pipe is an
/// interface, so that everything above it is tested without a phone.
#pragma once

#include <libusb.h>

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "harness/base/encoding.hpp"
#include "harness/base/result.hpp"
#include "harness/link/link.hpp"

namespace hb::link::detail {

enum class UsbEnd { done, stalled, cancelled, gone, failed };
struct UsbDone {
  UsbEnd end = UsbEnd::failed;
  Bytes data;             ///< a read: what came; a write: the buffer given back
  std::size_t moved = 0;  ///< bytes that crossed the cable
};

class UsbPipe {
 public:
  enum class Way { in, out };
  using Callback = std::function<void(UsbDone)>;

  /// Waits until every transfer has ended and its callback has returned; never call it from a callback.
  virtual ~UsbPipe() = default;
  /// Starts one transfer; several may be under way, and those of one way cross in the order of their start.
  /// `done` runs exactly once, on any thread, also from inside this call; the pipe owns the buffer until
  /// then. A read's size is a multiple of max_packet(in).
  virtual void read(std::size_t size, Callback done) = 0;
  virtual void write(Bytes data, Callback done) = 0;
  virtual bool clear_stall(Way way) = 0;
  /// Makes the phone begin anew, as if it had been plugged in again; only while no transfer is under way.
  /// False: it did not come back as it was. Blocks for some tenths of a second.
  [[nodiscard]] virtual bool reset() = 0;
  /// Running transfers of one way end soon, as cancelled where they have not ended by themselves.
  virtual void cancel(Way way) noexcept = 0;
  /// The computer knows that the phone is not plugged in any more. Does not block.
  [[nodiscard]] virtual bool gone() const noexcept = 0;
  [[nodiscard]] virtual std::size_t max_packet(Way way) const noexcept = 0;
};

/// Where the debug interface is: class 0xFF, subclass 0x42, protocol 0x01, one bulk endpoint each way (AOSP
/// packages/modules/adb adb.h).
struct UsbInterface {
  int number = 0, alternate = 0;
  std::uint8_t in = 0, out = 0;
  std::size_t max_packet_in = 0, max_packet_out = 0;
  friend bool operator==(const UsbInterface&, const UsbInterface&) = default;
};
/// Total on any descriptor that libusb hands out.
[[nodiscard]] std::optional<UsbInterface> find_debug_interface(const libusb_config_descriptor& config);

/// What a failed open or claim means and what to do.
[[nodiscard]] Error usb_error(int libusb_code);
[[nodiscard]] UsbEnd usb_end(libusb_transfer_status status) noexcept;

/// Which phone: any, or the one with this serial (compared in memory only), or the one in this place.
struct UsbWanted {
  std::optional<std::string> serial;
  std::optional<UsbPlace> place;
};
/// The real one; opened and claimed. Blocks.
[[nodiscard]] Result<std::unique_ptr<UsbPipe>> open_usb_pipe(const UsbWanted& wanted);
}  // namespace hb::link::detail
