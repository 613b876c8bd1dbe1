/// What the device ends of a debug interface have in common, on an emulated bus and on a kernel's: what the
/// device says of itself, the way to the daemon behind it, and a look at the framing of what the host sends.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "harness/base/encoding.hpp"

namespace hb::test {

inline constexpr std::size_t kPacket = 512;  ///< high speed, USB 2.0 section 5.8.3

/// One interface with bulk endpoints (numbers with the direction bit).
struct InterfaceSpec {
  std::uint8_t type = 0, sub = 0, protocol = 0;
  std::vector<std::uint8_t> endpoints;
};
struct DeviceSpec {
  int address = 2;           ///< emulated bus only: a kernel numbers by itself
  std::string port = "1-1";  ///< as sysfs names it; emulated bus only
  std::vector<InterfaceSpec> interfaces;
  std::string serial = "0123456789ABCDEF";
  /// What usbdevfs says that it can (USBDEVFS_CAP_*): one URB a transfer, or pieces of 16384 bytes.
  bool one_urb = true;
};
/// A phone: still image, the boot loader's interface, and the debug interface (number 2) on 0x83 and 0x02.
[[nodiscard]] DeviceSpec phone_spec();
/// The interfaces with their endpoints as a configuration holds them; `companion` follows each endpoint.
[[nodiscard]] Bytes interface_descriptors(const DeviceSpec& spec, std::size_t packet = kPacket,
                                          ByteView companion = {});

/// A connection to a daemon on this computer. Threads: one reads, one writes, any ends it.
class DaemonSocket {
 public:
  explicit DaemonSocket(std::uint16_t port);
  DaemonSocket(const DaemonSocket&) = delete;
  DaemonSocket& operator=(const DaemonSocket&) = delete;
  ~DaemonSocket();
  /// False once it has ended.
  [[nodiscard]] bool send_all(ByteView bytes) const;
  [[nodiscard]] bool receive_all(std::span<std::uint8_t> into) const;
  void end() const;

 private:
  int socket_;
};

/// One packet of the host: the payload's length and the transfers that carried it.
struct FromHost {
  std::size_t announced = 0;
  std::vector<std::size_t> transfers;
};
struct DeviceCounters {
  std::size_t bytes_in = 0, bytes_out = 0;
  int halts = 0, halts_cleared = 0,
      resets = 0;  ///< a kernel's device counts the first, an emulated one the others
  std::size_t most_waiting_in = 0, most_waiting_out = 0;  ///< transfers at one time
  std::vector<FromHost> from_host;
  std::string complaint;  ///< a breach of the framing; empty: none
  std::size_t left = 0;   ///< payload that the host still has to send

  /// Checks the framing as a strict daemon does.
  void take(ByteView transfer);
};

/// Little-endian.
[[nodiscard]] std::uint32_t u32_at(ByteView b, std::size_t at);
/// A header; how long its payload is, is at 12.
inline constexpr std::size_t kHeader = 24;
/// A payload leaves a phone in transfers of this size (AOSP packages/modules/adb daemon/usb.cpp).
inline constexpr std::size_t kBlock = 16384;
}  // namespace hb::test
