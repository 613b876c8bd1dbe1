// Private to harness/cli: which program this is.
#pragma once

#include <string_view>

namespace hb::cli {
/// What a record says of the program that made it. Without the commit: equal releases make equal records.
inline constexpr const char* kSoftware = "handback " HB_VERSION;

/// `git describe` of the source that this program was built from; empty without a repository.
[[nodiscard]] std::string_view commit();
}  // namespace hb::cli
