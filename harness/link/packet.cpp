#include "harness/link/packet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace hb::link {
namespace {
constexpr std::size_t kShellHeaderSize = 5;

std::uint32_t get_u32(const std::uint8_t* p) noexcept {
  return std::uint32_t{p[0]} | std::uint32_t{p[1]} << 8 | std::uint32_t{p[2]} << 16 |
         std::uint32_t{p[3]} << 24;
}

void put_u32(Bytes& out, std::uint32_t v) {
  for (int shift = 0; shift < 32; shift += 8) out.push_back(static_cast<std::uint8_t>(v >> shift & 0xff));
}

std::uint32_t byte_sum(ByteView bytes) noexcept {
  std::uint32_t sum = 0;
  for (const auto b : bytes) sum += b;
  return sum;
}

/// Appends after dropping what was already taken, so that the buffer never holds more than one unfinished
/// packet and the bytes fed last.
void feed_buffer(Bytes& buffer, std::size_t& taken, ByteView bytes) {
  if (taken != 0) {
    buffer.erase(buffer.begin(), buffer.begin() + static_cast<std::ptrdiff_t>(taken));
    taken = 0;
  }
  buffer.insert(buffer.end(), bytes.begin(), bytes.end());
}

Error bad_packet(std::string what, std::uint64_t offset) {
  return Error{ErrorCode::bad_format, std::move(what), fmt::format("byte {} of the link", offset),
               "Unplug the cable, plug it in again and start the check again."};
}
}  // namespace

Bytes encode_header(const Packet& p, std::uint32_t version) {
  const bool checked = p.command == kCnxn || p.command == kAuth || version < kVersionSkipChecksum;
  Bytes out;
  out.reserve(kHeaderSize);
  put_u32(out, p.command);
  put_u32(out, p.arg0);
  put_u32(out, p.arg1);
  put_u32(out, static_cast<std::uint32_t>(p.payload.size()));
  put_u32(out, checked ? byte_sum(p.payload) : 0);
  put_u32(out, p.command ^ 0xffffffffu);
  return out;
}

void PacketReader::feed(ByteView bytes) {
  if (broken_) return;
  if (begun_) bytes = bytes.subspan(collect(bytes));
  feed_buffer(buffer_, taken_, bytes);
}

std::size_t PacketReader::collect(ByteView bytes) {
  const auto n = std::min(length_ - begun_->payload.size(), bytes.size());
  begun_->payload.insert(begun_->payload.end(), bytes.begin(),
                         bytes.begin() + static_cast<std::ptrdiff_t>(n));
  return n;
}

Result<std::optional<Packet>> PacketReader::next() {
  const auto fail = [&](std::string_view what) {
    broken_ = true;
    buffer_ = {};
    begun_.reset();
    return bad_packet(std::string(what), offset_);
  };
  if (broken_) return fail("the link is already out of step");
  if (!begun_) {
    if (buffer_.size() - taken_ < kHeaderSize) return std::optional<Packet>{};
    const auto* h = buffer_.data() + taken_;
    const auto command = get_u32(h), length = get_u32(h + 12);
    if (get_u32(h + 20) != (command ^ 0xffffffffu)) return fail("a packet header is damaged (magic)");
    if (length > max_payload_) return fail("a packet is longer than both ends agreed");
    begun_.emplace();
    begun_->command = command;
    begun_->arg0 = get_u32(h + 4);
    begun_->arg1 = get_u32(h + 8);
    begun_->payload.reserve(length);
    length_ = length;
    sum_ = get_u32(h + 16);
    taken_ += kHeaderSize;
    taken_ += collect(ByteView(buffer_).subspan(taken_));
  }
  if (begun_->payload.size() < length_) return std::optional<Packet>{};
  if (version_ < kVersionSkipChecksum && byte_sum(begun_->payload) != sum_)
    return fail("a packet was damaged on the way (checksum)");
  offset_ += kHeaderSize + length_;
  return std::exchange(begun_, std::nullopt);
}

Bytes encode_shell(ShellId id, ByteView data) {
  Bytes out;
  out.reserve(kShellHeaderSize + data.size());
  out.push_back(static_cast<std::uint8_t>(id));
  put_u32(out, static_cast<std::uint32_t>(data.size()));
  out.insert(out.end(), data.begin(), data.end());
  return out;
}

void ShellReader::feed(ByteView bytes) {
  if (!broken_) feed_buffer(buffer_, taken_, bytes);
}

Result<std::optional<ShellPacket>> ShellReader::next() {
  const auto fail = [&](std::string_view what) {
    broken_ = true;
    return Error{ErrorCode::bad_format, std::string(what),
                 fmt::format("byte {} of the command's stream", offset_), "Start the check again."};
  };
  if (broken_) return fail("the command's stream is already out of step");
  const auto left = buffer_.size() - taken_;
  if (left < kShellHeaderSize) return std::optional<ShellPacket>{};
  const auto* h = buffer_.data() + taken_;
  const auto length = get_u32(h + 1);
  if (h[0] > static_cast<std::uint8_t>(ShellId::window)) return fail("an unknown kind of command packet");
  if (length > max_packet_) return fail("a command packet is too long");
  if (left - kShellHeaderSize < length) return std::optional<ShellPacket>{};
  ShellPacket p{static_cast<ShellId>(h[0]), Bytes(h + kShellHeaderSize, h + kShellHeaderSize + length)};
  taken_ += kShellHeaderSize + length;
  offset_ += kShellHeaderSize + length;
  return std::optional<ShellPacket>(std::move(p));
}
}  // namespace hb::link
