#include "db.hpp"

#include "postgres_db.hpp"
#include "sqlite_db.hpp"

namespace hb::ledger::detail {
namespace {
constexpr int kPage = 500;
}

Result<std::unique_ptr<Db>> open_db(const std::string& place, bool writable, const Options& options) {
  if (is_postgres(place)) return open_postgres(place, writable, options);
  return open_sqlite(place, writable, options);
}

Result<Transaction> Transaction::begin(const Db& db, bool write) {
  if (auto r = db.begin(write); !r) return std::move(r).error();
  return Transaction(db);
}

Transaction::~Transaction() {
  // A failed write may have rolled back by itself already.
  if (db_ != nullptr && db_->in_transaction()) static_cast<void>(db_->run("ROLLBACK"));
}

Result<void> Transaction::commit() {
  if (!db_->in_transaction())
    return Error{ErrorCode::io, "the disk failed: the entry was not kept", db_->where(), "Try again."};
  if (auto r = db_->commit(); !r) return r;  // the destructor rolls back
  db_ = nullptr;
  return {};
}

Cursor::Cursor(const Db& db, std::string sql, std::int64_t after)
    : db_(db), sql_(std::move(sql) + " LIMIT " + std::to_string(kPage)), after_(after) {}

Result<bool> Cursor::next() {
  for (;;) {
    const bool fresh = !page_;
    if (fresh) {
      auto s = db_.prepare(sql_);
      if (!s) return std::move(s).error();
      s->bind(after_);
      page_.emplace(std::move(*s));
      left_ = kPage;
    }
    auto row = page_->step();
    if (!row) return row;
    if (*row) {
      after_ = page_->integer(0);
      --left_;
      return true;
    }
    page_.reset();
    if (left_ > 0) return false;  // the page was not full
  }
}
}  // namespace hb::ledger::detail
