/// The link's byte pipe over USB: how packets are cut into transfers.
/// Source: AOSP packages/modules/adb client/usb_linux.cpp, usb_libusb.cpp, daemon/usb.cpp, 2024 state; read
/// sizes and the zero-length packet: USB 2.0 section 5.8.3.
#pragma once

#include <deque>

#include "harness/link/detail/usb_pipe.hpp"
#include "harness/link/link.hpp"

namespace hb::link::detail {

/// Says what to ask for next and what of the answers goes on. A header is one transfer of exactly 24 bytes;
/// asking for no more than its payload keeps a payload of whole packets from waiting for an end that does not
/// come. A payload's pieces and the header behind it are asked for ahead. Until the first greeting everything
/// else is left over from a former connection and dropped, whatever its length, and one transfer is asked for
/// at a time; so it is with a phone that ends a transfer within a payload. Pure.
class UsbFramer {
 public:
  explicit UsbFramer(std::size_t max_packet) : max_packet_(max_packet) {}
  /// Size of the next transfer to start, a multiple of the packet size; none while enough is under way.
  [[nodiscard]] std::optional<std::size_t> next_size();
  /// The answer to the oldest transfer asked for. The bytes for the link, maybe none. bad_format: header of
  /// a wrong length, more payload than announced.
  [[nodiscard]] Result<Bytes> take(Bytes chunk);
  /// Every transfer has ended (after a stall): asks anew for what has not come.
  void restart();

 private:
  [[nodiscard]] Result<Bytes> take_payload(Bytes chunk);
  [[nodiscard]] Result<Bytes> take_header(Bytes chunk);

  std::size_t max_packet_;
  std::size_t left_ = 0;           ///< payload bytes still to come
  std::size_t unasked_ = 0;        ///< of these, not asked for
  std::deque<std::size_t> asked_;  ///< transfers under way: payload bytes, 0 for a header
  bool greeted_ = false, dropping_ = false, careful_ = false;
};

/// The transfers that carry one packet: header, payload in pieces, and a zero-length one after a payload of
/// whole packets. Pure.
[[nodiscard]] std::vector<Bytes> usb_transfers(Bytes header, Bytes payload, std::size_t max_packet);

/// Threads: the strand of `executor`; completions are posted to it.
[[nodiscard]] std::unique_ptr<Transport> usb_transport(const net::asio::any_io_executor& executor,
                                                       std::unique_ptr<UsbPipe> pipe);
}  // namespace hb::link::detail
