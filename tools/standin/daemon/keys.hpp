/// The device side of AUTH: which public keys were allowed, and whether a signature is by one of them.
/// Source: AOSP packages/modules/adb, daemon/auth.cpp; system/core libcrypto_utils android_pubkey.
/// Threads: plain objects.
#pragma once

#include <set>

#include "harness/base/encoding.hpp"

namespace hb::standin {
class KeyRing {
 public:
  /// Remembers the key in `text` (base64 of the 524-byte struct, then a blank and a label). False when that
  /// is not what it holds.
  [[nodiscard]] bool allow(std::string_view text);
  [[nodiscard]] bool signed_by_one(ByteView token, ByteView signature) const;

 private:
  std::set<Bytes> allowed_;
};
}  // namespace hb::standin
