// The only place that knows SQLite's result codes is behind this.
#pragma once

#include "db.hpp"

namespace hb::ledger::detail {
[[nodiscard]] Result<std::unique_ptr<Db>> open_sqlite(const std::string& file, bool writable,
                                                      const Options& options);
}
