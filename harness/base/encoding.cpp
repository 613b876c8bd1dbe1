#include "harness/base/encoding.hpp"

#include <sodium.h>

#include <algorithm>

namespace hb {
namespace {
std::string encode64(ByteView b, int variant) {
  std::string out(sodium_base64_encoded_len(b.size(), variant), '\0');
  sodium_bin2base64(out.data(), out.size(), b.data(), b.size(), variant);
  out.resize(out.size() - 1);
  return out;
}
}  // namespace

std::string base64(ByteView b) { return encode64(b, sodium_base64_VARIANT_ORIGINAL); }
std::string base64url(ByteView b) { return encode64(b, sodium_base64_VARIANT_URLSAFE_NO_PADDING); }

Result<Bytes> from_base64url(std::string_view text) {
  Bytes out(text.size() * 3 / 4 + 3);
  std::size_t n = 0;
  const char* end = nullptr;
  if (sodium_base642bin(out.data(), out.size(), text.data(), text.size(), nullptr, &n, &end,
                        sodium_base64_VARIANT_URLSAFE_NO_PADDING) != 0 ||
      end != text.data() + text.size())
    return Error{ErrorCode::bad_format, "not base64url text", "", ""};
  out.resize(n);
  return out;
}

std::string hex(ByteView b) {
  std::string out(b.size() * 2 + 1, '\0');
  sodium_bin2hex(out.data(), out.size(), b.data(), b.size());
  out.resize(b.size() * 2);
  return out;
}

Result<Bytes> from_hex(std::string_view text) {
  Bytes out(text.size() / 2 + 1);
  std::size_t n = 0;
  const char* end = nullptr;
  const bool upper = std::any_of(text.begin(), text.end(), [](char c) { return c >= 'A' && c <= 'F'; });
  if (upper || text.size() % 2 != 0 ||
      sodium_hex2bin(out.data(), out.size(), text.data(), text.size(), nullptr, &n, &end) != 0 ||
      end != text.data() + text.size())
    return Error{ErrorCode::bad_format, "not lower-case hexadecimal text", "", ""};
  out.resize(n);
  return out;
}

Digest sha256(ByteView b) {
  Digest d{};
  crypto_hash_sha256(d.data(), b.data(), b.size());
  return d;
}

Digest hmac_sha256(ByteView key, ByteView b) {
  Digest d{};
  crypto_auth_hmacsha256_state st;
  crypto_auth_hmacsha256_init(&st, key.data(), key.size());
  crypto_auth_hmacsha256_update(&st, b.data(), b.size());
  crypto_auth_hmacsha256_final(&st, d.data());
  return d;
}
}  // namespace hb
