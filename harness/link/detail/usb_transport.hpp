/// The link's byte pipe over USB: how packets are cut into transfers.
/// Source: AOSP packages/modules/adb client/usb_linux.cpp, usb_libusb.cpp, daemon/usb.cpp, 2024 state; read
/// sizes and the zero-length packet: USB 2.0 section 5.8.3.
#pragma once

#include "harness/link/detail/usb_pipe.hpp"
#include "harness/link/link.hpp"

namespace hb::link::detail {

/// Says how much to ask for next and what of the answer goes on. A header is one transfer of exactly 24
/// bytes; asking for no more than its payload keeps a payload of whole packets from waiting for an end that
/// does not come. Until the first greeting everything else is left over from a former connection and dropped.
/// Pure.
class UsbFramer {
 public:
  explicit UsbFramer(std::size_t max_packet) : max_packet_(max_packet) {}
  [[nodiscard]] std::size_t next_size() const;
  /// The bytes for the link, maybe none. bad_format: header of a wrong length, more payload than announced.
  [[nodiscard]] Result<Bytes> take(Bytes chunk);

 private:
  std::size_t max_packet_;
  std::size_t left_ = 0;  ///< payload bytes still to come
  bool greeted_ = false, dropping_ = false;
};

/// The transfers that carry one packet: header, payload in pieces, and a zero-length one after a payload of
/// whole packets. Pure.
[[nodiscard]] std::vector<Bytes> usb_transfers(Bytes header, Bytes payload, std::size_t max_packet);

/// Threads: the strand of `executor`; completions are posted to it.
[[nodiscard]] std::unique_ptr<Transport> usb_transport(const net::asio::any_io_executor& executor,
                                                       std::unique_ptr<UsbPipe> pipe);
}  // namespace hb::link::detail
