/// Packet codec of the debug link: 24-byte header, six little-endian uint32 (AOSP adb protocol.txt, types.h).
/// Pure; shared by both ends. Threads: any.
#pragma once

#include <cstdint>
#include <optional>

#include "harness/base/encoding.hpp"

namespace hb::link {
inline constexpr std::uint32_t kCnxn = 0x4e584e43, kAuth = 0x48545541, kOpen = 0x4e45504f, kOkay = 0x59414b4f,
                               kWrte = 0x45545257, kClse = 0x45534c43, kStls = 0x534c5453;
inline constexpr std::uint32_t kVersionChecksum = 0x01000000, kVersionSkipChecksum = 0x01000001;
inline constexpr std::size_t kHeaderSize = 24, kMaxPayloadV1 = 4096;

struct Packet {
  std::uint32_t command = 0, arg0 = 0, arg1 = 0;
  Bytes payload;
  friend bool operator==(const Packet&, const Packet&) = default;
};

/// The header alone; the checksum is the unsigned byte sum, or 0 from version 0x01000001 on (CNXN and AUTH
/// always carry it).
[[nodiscard]] Bytes encode_header(const Packet& p, std::uint32_t version);

/// Feeds on any cut of the byte stream and yields whole packets.
class PacketReader {
 public:
  explicit PacketReader(std::uint32_t max_payload) : max_payload_(max_payload) {}
  void set_limits(std::uint32_t max_payload, std::uint32_t version) {
    max_payload_ = max_payload, version_ = version;
  }
  void feed(ByteView bytes);
  /// A packet, nullopt when more bytes are needed, or bad_format with the byte offset in the stream (wrong
  /// magic, length above the maximum, wrong checksum). After an error the reader stays in error and keeps
  /// nothing more. The checksum is looked at only while the version asks for it.
  [[nodiscard]] Result<std::optional<Packet>> next();
  /// Offset in the stream of the packet that next() will look at.
  [[nodiscard]] std::uint64_t offset() const noexcept { return offset_; }

 private:
  /// Takes what the begun packet still lacks; says how much that was.
  std::size_t collect(ByteView bytes);

  std::uint32_t max_payload_;
  std::uint32_t version_ = kVersionChecksum;
  std::optional<Packet> begun_;  ///< its header is read; the payload is collected in place
  std::size_t length_ = 0;
  std::uint32_t sum_ = 0;
  Bytes buffer_;
  std::size_t taken_ = 0;
  std::uint64_t offset_ = 0;
  bool broken_ = false;
};

/// Shell protocol v2 (AOSP shell_protocol.h): 1 byte id, 4 byte little-endian length, data.
enum class ShellId : std::uint8_t { in = 0, out = 1, err = 2, exit = 3, close_in = 4, window = 5 };
struct ShellPacket {
  ShellId id;
  Bytes data;
};
[[nodiscard]] Bytes encode_shell(ShellId id, ByteView data);

/// Feeds on any cut of a command's stream. next(): as PacketReader's; bad_format for an unknown id or a
/// packet above `max_packet`.
class ShellReader {
 public:
  explicit ShellReader(std::size_t max_packet = 1u << 20) : max_packet_(max_packet) {}
  void feed(ByteView bytes);
  [[nodiscard]] Result<std::optional<ShellPacket>> next();

 private:
  std::size_t max_packet_;
  Bytes buffer_;
  std::size_t taken_ = 0;
  std::uint64_t offset_ = 0;
  bool broken_ = false;
};
}  // namespace hb::link
