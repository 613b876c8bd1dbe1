/// Text forms of bytes, strict in both directions: a decoder accepts exactly what the encoder writes, so that
/// two different texts never stand for the same bytes (a changed character is always noticed).
/// Sources: base64 and base64url without padding, RFC 4648 sections 4 and 5; hexadecimal, section 8, lower
/// case. Threads: pure functions.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/result.hpp"

namespace hb {
using Bytes = std::vector<std::uint8_t>;
using ByteView = std::span<const std::uint8_t>;

[[nodiscard]] inline ByteView as_bytes(std::string_view s) noexcept {
  return {reinterpret_cast<const std::uint8_t*>(s.data()), s.size()};
}
[[nodiscard]] inline std::string_view as_text(ByteView b) noexcept {
  return {reinterpret_cast<const char*>(b.data()), b.size()};
}

[[nodiscard]] std::string base64(ByteView bytes);
[[nodiscard]] std::string base64url(ByteView bytes);
[[nodiscard]] Result<Bytes> from_base64url(std::string_view text);
[[nodiscard]] std::string hex(ByteView bytes);
[[nodiscard]] Result<Bytes> from_hex(std::string_view text);

/// SHA-256, FIPS 180-4.
using Digest = std::array<std::uint8_t, 32>;
[[nodiscard]] Digest sha256(ByteView bytes);
/// HMAC-SHA-256, RFC 2104 and FIPS 180-4; any key length.
[[nodiscard]] Digest hmac_sha256(ByteView key, ByteView bytes);
}  // namespace hb
