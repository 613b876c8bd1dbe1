/// Times as records write them: RFC 3339, UTC, whole seconds, "2026-11-25T09:30:00Z", years 1970 to 9999.
/// Exactly one text stands for a second. Leap seconds are not written (POSIX time).
/// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "harness/base/result.hpp"

namespace hb::record {
/// Precondition: 0 <= seconds < 253402300800 (the year 10000); clamped otherwise.
[[nodiscard]] std::string utc_text(std::int64_t seconds_since_1970);
/// Errors: bad_format for any other form or a date that is not in the calendar.
[[nodiscard]] Result<std::int64_t> utc_seconds(std::string_view text);
}  // namespace hb::record
