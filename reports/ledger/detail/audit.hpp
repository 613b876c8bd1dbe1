// Reading every row again. The caller has begun a transaction.
#pragma once

#include "store.hpp"

namespace hb::ledger::detail {
[[nodiscard]] Result<Audit> audit(const Db& db, const sign::KeyRing& ring, std::string_view earlier_head);
}  // namespace hb::ledger::detail
