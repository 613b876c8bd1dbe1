// PostgreSQL through libpq. No text of libpq or of the server goes into an Error: it could hold a password.
#pragma once

#include "db.hpp"

namespace hb::ledger::detail {
/// A URI (postgresql:// or postgres://) or words that start with host=, hostaddr=, dbname=, user=, port= or
/// service=. https://www.postgresql.org/docs/15/libpq-connect.html#LIBPQ-CONNSTRING
[[nodiscard]] bool is_postgres(std::string_view place);
[[nodiscard]] Result<std::unique_ptr<Db>> open_postgres(const std::string& place, bool writable,
                                                        const Options& options);
}  // namespace hb::ledger::detail
