/// A made-up past for a ledger, so that the comeback audit has something to show: invented phones, parts and
/// lots, nobody's data. One lot of display-hinge assemblies is worse than the others: its hinges leave with
/// more play (inside the limit, or barely) and come back earlier. Deterministic: the same jobs, seed and end
/// give the same jobs and records (signatures differ by the key). Threads: as the ledger.
#pragma once

#include <cstdint>
#include <string_view>

#include "reports/ledger/ledger.hpp"

namespace hb::demo {
/// What the made-up past ends at: the date to audit as of.
inline constexpr std::string_view kHistoryEnd = "2026-11-01T00:00:00Z";

/// Appends `jobs` first repairs, spread over the 420 days before `end_utc`, and the comebacks that follow
/// from them, each with its runs; all of it in one commit. Errors: those of the ledger; invalid_argument for
/// jobs < 0 or an end that is no time.
[[nodiscard]] Result<void> seed_demo_history(ledger::Ledger& ledger, int jobs, std::uint64_t seed,
                                             std::string_view end_utc = kHistoryEnd);
}  // namespace hb::demo
