/// The page's files, embedded at build time.
#pragma once

#include <span>
#include <string_view>

#include "harness/base/encoding.hpp"

namespace hb::page {
struct Asset {
  std::string_view name;
  ByteView bytes;
};
[[nodiscard]] std::span<const Asset> assets();
}  // namespace hb::page
