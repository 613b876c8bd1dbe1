#include "harness/link/detail/usb_transport.hpp"

#include <algorithm>

#include "harness/link/packet.hpp"

namespace hb::link::detail {
namespace {
/// A multiple of every allowed packet size (64, 512, 1024), small enough for any kernel's transfer memory.
constexpr std::size_t kPiece = 64u << 10;
/// For what is left over before the greeting. One URB whatever the kernel can: of several, the later ones
/// could swallow what follows a short one.
constexpr std::size_t kLeftOver = 16u << 10;
constexpr std::uint32_t kMaxAnnounced = 16u << 20;

std::uint32_t u32_at(const Bytes& b, std::size_t at) {
  std::uint32_t v = 0;
  for (std::size_t i = 0; i < 4; ++i) v |= std::uint32_t{b[at + i]} << (8 * i);
  return v;
}

Error misframed(std::string what) {
  return Error{ErrorCode::bad_format, std::move(what), "usb", "Unplug the cable and plug it in again."};
}

bool opens_a_link(std::uint32_t command) { return command == kCnxn || command == kAuth || command == kStls; }
}  // namespace

std::optional<std::size_t> UsbFramer::next_size() {
  if ((!greeted_ || careful_) && !asked_.empty()) return std::nullopt;
  const bool header_asked = !asked_.empty() && asked_.back() == 0;
  if (header_asked) return std::nullopt;
  const auto payload = std::min(unasked_, kPiece);
  unasked_ -= payload;
  asked_.push_back(payload);
  const auto header = greeted_ ? kHeaderSize : kLeftOver;
  const auto wanted = payload == 0 ? header : payload;
  return (wanted + max_packet_ - 1) / max_packet_ * max_packet_;
}

Result<Bytes> UsbFramer::take(Bytes chunk) {
  std::size_t expected = 0;
  if (!asked_.empty()) {
    expected = asked_.front();
    asked_.pop_front();
  }
  const bool payload = left_ > 0;
  if (payload && chunk.size() != std::min(expected, left_)) careful_ = true;
  auto out = chunk.empty() ? Result<Bytes>(Bytes{})
             : payload     ? take_payload(std::move(chunk))
                           : take_header(std::move(chunk));
  if (asked_.empty()) unasked_ = left_;
  return out;
}

Result<Bytes> UsbFramer::take_payload(Bytes chunk) {
  if (chunk.size() > left_) {
    left_ = 0;
    if (greeted_) return misframed("the phone sent more than it announced");
    return Bytes{};
  }
  left_ -= chunk.size();
  return dropping_ ? Bytes{} : std::move(chunk);
}

Result<Bytes> UsbFramer::take_header(Bytes chunk) {
  // The rest of a payload, if it is of whole packets, has no end of its own before the next header.
  if (!greeted_ && chunk.size() % max_packet_ == kHeaderSize)
    chunk.erase(chunk.begin(), chunk.end() - static_cast<std::ptrdiff_t>(kHeaderSize));
  const bool header = chunk.size() == kHeaderSize && u32_at(chunk, 20) == (u32_at(chunk, 0) ^ 0xffffffffu) &&
                      u32_at(chunk, 12) <= kMaxAnnounced;
  if (!header) {
    if (greeted_) return misframed("the phone sent a damaged packet header");
    return Bytes{};
  }
  left_ = u32_at(chunk, 12);
  unasked_ = left_;
  greeted_ = greeted_ || opens_a_link(u32_at(chunk, 0));
  dropping_ = !greeted_;
  return dropping_ ? Bytes{} : std::move(chunk);
}

void UsbFramer::restart() {
  asked_.clear();
  unasked_ = left_;
  careful_ = false;
}

std::vector<Bytes> usb_transfers(Bytes header, Bytes payload, std::size_t max_packet) {
  std::vector<Bytes> out;
  out.push_back(std::move(header));
  const bool whole_packets = !payload.empty() && payload.size() % max_packet == 0;
  if (payload.size() <= kPiece) {
    if (!payload.empty()) out.push_back(std::move(payload));
  } else {
    for (std::size_t at = 0; at < payload.size(); at += kPiece) {
      const auto piece = ByteView(payload).subspan(at, std::min(kPiece, payload.size() - at));
      out.emplace_back(piece.begin(), piece.end());
    }
  }
  if (whole_packets) out.emplace_back();
  return out;
}
}  // namespace hb::link::detail
