/// What should not have been written: an entry is taken back by a later one, and its typed texts can be taken
/// out. Nothing that was signed is ever changed, so there is no way back from a withdrawal.
///   {"schema":"handback-withdrawal-1","bench":{"key_id"},
///    "withdrawal":{"of":"run"|"job","id","job","reason","at"}}
///   {"schema":"handback-erasure-1","bench":{"key_id"},
///    "erasure":{"of":"run"|"job","id","job","entries":[seq...],"at"}}
/// Both are signed entries like any other. Threads: value types.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace hb::ledger {

/// Why; a closed list, so that no text explains itself into the ledger.
inline constexpr std::array<std::string_view, 5> kWithdrawalReasons{
    "wrong-job", "wrong-phone", "personal-text", "written-twice", "test-run"};

struct Withdrawal {
  std::int64_t seq = 0;
  bool of_job = false;     ///< the whole job, with all its runs
  std::string id, job_id;  ///< of what was withdrawn; of a job both are the same
  std::string reason;      ///< one of kWithdrawalReasons
  std::string at_utc, key_id;
};

/// What an erasure did.
struct Erasure {
  std::vector<std::int64_t> entries;  ///< whose texts were taken out now
  std::vector<std::int64_t> kept;     ///< signed before texts lay apart: they stay as they are
  std::vector<std::string> runs;  ///< all runs of what was withdrawn: files elsewhere may hold their texts
  std::string left;               ///< what the database could not do, one sentence; empty: nothing
};
}  // namespace hb::ledger
