// What was signed, and whether by a key that is vouched for. Shared by the audit and by the proofs.
#pragma once

#include "store.hpp"

namespace hb::ledger::detail {
/// A signed head's content.
struct SignedHead {
  std::int64_t size = 0;
  std::string root_hex, at_utc;
};
/// Nothing: this is no head.
[[nodiscard]] std::optional<SignedHead> read_head(const std::string& payload);

/// Nothing: signed by a key that is vouched for and was not revoked at that time. Else the flaw, with a
/// sentence that starts with `what`.
[[nodiscard]] std::optional<Audit> check_signature(const Result<sign::Verified>& v, std::int64_t seq,
                                                   std::string_view at_utc, const std::string& what);
}  // namespace hb::ledger::detail
