/// The debug link: the open Android Debug Bridge wire protocol, host side, spoken straight to one phone.
/// Knows nothing of phones' meaning: bytes in, bytes out.
///
/// Threads: every object of one Link lives on one strand (the executor it was opened on); no locks.
/// Deadlines: each call takes one (wall time) or has a documented default, and each honours the coroutine's
/// cancellation. Memory per phone is bounded: see LinkOptions.
/// Source of the protocol: AOSP packages/modules/adb (protocol.txt, adb.h, shell_protocol.h), read 2024
/// state.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "harness/base/encoding.hpp"
#include "harness/net/asio.hpp"

namespace hb::link {

/// A byte pipe to one phone: TCP, USB, or a test's in-memory pair. read() returns 1..max bytes; an orderly
/// or torn end is link_lost. write() writes everything. One read and one write may be in flight together.
class Transport {
 public:
  virtual ~Transport() = default;
  [[nodiscard]] virtual net::awaitable<Result<std::size_t>> read(std::span<std::uint8_t> into) = 0;
  /// Header and payload of one packet: USB needs them as separate transfers.
  [[nodiscard]] virtual net::awaitable<Result<void>> write(Bytes header, Bytes payload) = 0;
  virtual void close() noexcept = 0;
  /// "tcp" or "usb": for the record. Never an address or a serial.
  [[nodiscard]] virtual std::string_view kind() const noexcept = 0;
};

[[nodiscard]] net::awaitable<Result<std::unique_ptr<Transport>>> connect_tcp(std::string host,
                                                                             std::uint16_t port,
                                                                             net::milliseconds deadline);
/// Where a phone is plugged in. No serial, no text of the phone.
struct UsbPlace {
  std::string port;  ///< bus and ports as the kernel names them, "3-1.2"
  int address = 0;   ///< a new one each time something is plugged in
  friend bool operator==(const UsbPlace&, const UsbPlace&) = default;
};

/// The first phone whose interface is 0xFF/0x42/0x01, or the one with this USB serial (compared in memory
/// only). Does not wait for one to be plugged in: not_found at once. refused (permission: names the udev
/// rule; busy: another debug-link server holds it). timed_out: the computer's USB did not answer; what was
/// begun ends by itself. unsupported: this computer gives no USB access at all.
[[nodiscard]] net::awaitable<Result<std::unique_ptr<Transport>>> connect_usb(
    std::optional<std::string> serial, net::milliseconds deadline);
/// The phone in this place.
[[nodiscard]] net::awaitable<Result<std::unique_ptr<Transport>>> connect_usb_at(UsbPlace place,
                                                                                net::milliseconds deadline);

/// What happens when this user takes the phone's debug interface: nothing stands in the way, the udev rule is
/// missing, another program holds it, or the phone is not there (any more).
enum class UsbAccess { free, denied, busy, gone };
/// Opens and claims for a moment. Blocks for some milliseconds.
[[nodiscard]] UsbAccess probe_usb(const UsbPlace& place);

/// Phones that come and go. Uses the system's notices where libusb has them, else looks twice a second.
class UsbWatch {
 public:
  struct Change {
    bool arrived = false;
    UsbPlace place;
  };
  virtual ~UsbWatch() = default;
  /// Each phone that is there counts as arrived. unsupported: this computer gives no USB access at all.
  [[nodiscard]] static Result<std::unique_ptr<UsbWatch>> start(const net::asio::any_io_executor& executor);
  /// timed_out: nothing changed; cancelled. One call at a time.
  [[nodiscard]] virtual net::awaitable<Result<Change>> next(net::milliseconds deadline) = 0;
};

/// The bench's RSA-2048 key for AUTH. Loaded from `file`, made on first use with mode 0600 (PEM, PKCS#8).
/// Errors: refused (other users can read the file), bad_format (not such a key), io. Making it is safe
/// against a power cut and against a second program that starts at the same time.
class BenchRsaKey {
 public:
  [[nodiscard]] static Result<BenchRsaKey> load_or_make(const std::filesystem::path& file);
  /// PKCS#1 v1.5, digest id SHA-1, the 20-byte token taken as the digest (RFC 8017 section 9.2). 256 bytes.
  [[nodiscard]] Result<Bytes> sign(ByteView token) const;
  /// Android public-key text: base64 of the 524-byte struct, blank, neutral label "bench@handback". No NUL.
  [[nodiscard]] std::string public_text() const;
  /// The 524-byte struct itself (AOSP libcrypto_utils android_pubkey).
  [[nodiscard]] Bytes public_struct() const;

 private:
  struct Impl;
  std::shared_ptr<const Impl> impl_;
};

struct LinkOptions {
  std::uint32_t max_payload = 1u << 20;  ///< ours; agreed is the smaller of both
  std::size_t max_streams = 64;
  std::size_t max_unread_per_stream = 4u << 20;  ///< a peer that floods beyond it loses the stream
  net::milliseconds handshake{10000};
  net::milliseconds authorise{60000};          ///< how long the owner may look at the dialog
  std::function<void()> on_waiting_for_owner;  ///< called once when the phone shows its dialog
  bool delayed_ack = true;  ///< offer delayed acknowledgement: more than one packet in flight a stream
};

/// One open stream. Bytes are delivered in order. Destroying it closes it. One read and one write at a time
/// (a second one is `internal`). A read that timed out or was cancelled has lost nothing: read again. A write
/// that did not succeed may have sent a part.
class Stream {
 public:
  virtual ~Stream() = default;
  /// Next bytes; an empty value is the orderly end. link_lost, timed_out, cancelled.
  [[nodiscard]] virtual net::awaitable<Result<Bytes>> read(net::milliseconds deadline) = 0;
  /// Returns when the last piece is on its way. refused: the phone closed the stream.
  [[nodiscard]] virtual net::awaitable<Result<void>> write(Bytes data, net::milliseconds deadline) = 0;
  virtual void close() = 0;
};

struct ShellOutput {
  std::string out, err;
  int exit_code = 0;
};

/// A live connection. Keep it by shared_ptr; close() or destruction ends every stream with link_lost.
class Link : public std::enable_shared_from_this<Link> {
 public:
  virtual ~Link() = default;
  /// CNXN/AUTH handshake on `transport`. unauthorised: the owner did not allow this bench in time.
  /// unsupported: the peer insists on TLS.
  [[nodiscard]] static net::awaitable<Result<std::shared_ptr<Link>>> open(
      std::unique_ptr<Transport> transport, BenchRsaKey key, LinkOptions options);
  /// Banner facts: "ro.product.model" and so on, as sent. Hostile text: only harness/phone may look.
  [[nodiscard]] virtual const std::map<std::string, std::string>& banner() const = 0;
  [[nodiscard]] virtual bool has_feature(std::string_view f) const = 0;
  [[nodiscard]] virtual std::string_view transport_kind() const = 0;
  [[nodiscard]] virtual bool alive() const = 0;

  [[nodiscard]] virtual net::awaitable<Result<std::unique_ptr<Stream>>> open_stream(
      std::string service, net::milliseconds deadline) = 0;
  /// shell,v2,raw when both sides have shell_v2, else shell: (then err is empty and exit_code is -1).
  /// Output beyond `max_output` bytes is bad_format: no reading of ours is longer.
  [[nodiscard]] virtual net::awaitable<Result<ShellOutput>> shell(std::string command,
                                                                  net::milliseconds deadline,
                                                                  std::size_t max_output = 2u << 20) = 0;
  /// A shell,v2,pty stream with the shell-protocol framing removed: read() gives stdout text as it comes,
  /// the orderly end is the exit. For live event streams. unsupported without shell_v2.
  [[nodiscard]] virtual net::awaitable<Result<std::unique_ptr<Stream>>> shell_pty(
      std::string command, net::milliseconds deadline) = 0;

  using Acceptor = std::function<net::awaitable<void>(std::unique_ptr<Stream>)>;
  /// reverse:forward:tcp:DEVICE_PORT;tcp:HOST_PORT. Every connection that the phone then opens to exactly
  /// "tcp:HOST_PORT" is handed to `on_connection` as a stream (no socket of ours is opened); any other
  /// destination is refused. device_port 0: the phone chooses. Returns the device port.
  /// invalid_argument: host_port is 0 or has a forward already. The acceptor is kept until the forward is
  /// removed or the link ends; its coroutine may run longer and ends when its stream does.
  [[nodiscard]] virtual net::awaitable<Result<std::uint16_t>> reverse(std::uint16_t device_port,
                                                                      std::uint16_t host_port,
                                                                      Acceptor on_connection,
                                                                      net::milliseconds deadline) = 0;
  [[nodiscard]] virtual net::awaitable<Result<void>> remove_reverse(std::uint16_t device_port,
                                                                    net::milliseconds deadline) = 0;
  virtual void close() = 0;
};

}  // namespace hb::link
