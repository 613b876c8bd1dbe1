#include "db.hpp"

#include <algorithm>
#include <thread>

namespace hb::ledger::detail {
namespace {
Error to_error(int code, const std::string& where) {
  const auto io = [&](std::string what, std::string next) {
    return Error{ErrorCode::io, std::move(what), where, std::move(next)};
  };
  switch (code & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return io("the ledger is in use by another program", "Wait until it has finished, then try again.");
    case SQLITE_FULL:
      return io("the disk is full: the entry was not kept", "Make room, then try again.");
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
      return io("the ledger may not be written", "Check the file, its folder and their permissions.");
    case SQLITE_CANTOPEN:
      return io("the ledger cannot be opened", "Check the path, the folder and its permissions.");
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
      return Error{ErrorCode::bad_format, "this file is no ledger, or it is damaged", where,
                   "Restore it from its backup."};
    case SQLITE_CONSTRAINT:
      return Error{ErrorCode::refused, "the ledger is append-only and refused the change", where, ""};
    case SQLITE_ERROR:
      return Error{ErrorCode::bad_format, "this database is not laid out as a ledger", where,
                   "Name the right file."};
    default:
      return io("the disk failed: the entry was not kept", "Check the disk, then try again.");
  }
}
}  // namespace

Statement& Statement::bind(std::int64_t v) { return sqlite3_bind_int64(s_.get(), next_++, v), *this; }

Statement& Statement::bind(std::string_view v) {
  sqlite3_bind_text64(s_.get(), next_++, v.data(), v.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
  return *this;
}

Statement& Statement::bind_blob(ByteView v) {
  if (v.empty())
    sqlite3_bind_zeroblob(s_.get(), next_++, 0);
  else
    sqlite3_bind_blob64(s_.get(), next_++, v.data(), v.size(), SQLITE_TRANSIENT);
  return *this;
}

Result<bool> Statement::step() {
  const int code = sqlite3_step(s_.get());
  if (code == SQLITE_ROW) return true;
  if (code == SQLITE_DONE) return false;
  sqlite3_reset(s_.get());
  return to_error(code, where_);
}

Result<void> Statement::run() {
  auto r = step();
  if (!r) return std::move(r).error();
  return {};
}

std::int64_t Statement::integer(int column) const { return sqlite3_column_int64(s_.get(), column); }

std::string Statement::text(int column) const {
  const auto* p = static_cast<const char*>(sqlite3_column_blob(s_.get(), column));
  const auto n = sqlite3_column_bytes(s_.get(), column);
  return p == nullptr ? std::string() : std::string(p, static_cast<std::size_t>(n));
}

Result<Db> Db::open(const std::filesystem::path& file, bool writable, std::chrono::milliseconds busy_timeout,
                    const std::string& vfs) {
  Db out;
  out.where_ = file.string();
  sqlite3* raw = nullptr;
  const int flags = (writable ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READONLY) |
                    SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE;
  const int code = sqlite3_open_v2(file.c_str(), &raw, flags, vfs.empty() ? nullptr : vfs.c_str());
  out.db_.reset(raw);
  if (code != SQLITE_OK) return to_error(code, out.where_);
  sqlite3_busy_timeout(raw, static_cast<int>(busy_timeout.count()));
  return out;
}

Result<void> Db::run(const char* sql) const {
  const int code = sqlite3_exec(db_.get(), sql, nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) return to_error(code, where_);
  return {};
}

Result<void> Db::use_write_ahead_log(std::chrono::milliseconds busy_timeout) const {
  const auto until = std::chrono::steady_clock::now() + busy_timeout;
  for (auto pause = std::chrono::milliseconds(1);;
       pause = std::min(2 * pause, std::chrono::milliseconds(50))) {
    const int code = sqlite3_exec(db_.get(), "PRAGMA journal_mode = WAL", nullptr, nullptr, nullptr);
    if (code == SQLITE_OK) return {};
    if ((code & 0xff) != SQLITE_BUSY || std::chrono::steady_clock::now() + pause > until)
      return to_error(code, where_);
    std::this_thread::sleep_for(pause);
  }
}

Result<Statement> Db::prepare(std::string_view sql) const {
  sqlite3_stmt* raw = nullptr;
  const int code = sqlite3_prepare_v2(db_.get(), sql.data(), static_cast<int>(sql.size()), &raw, nullptr);
  Statement s;
  s.s_.reset(raw);
  s.where_ = where_;
  if (code != SQLITE_OK) return to_error(code, where_);
  return s;
}

Result<Transaction> Transaction::begin(const Db& db, bool immediate) {
  if (auto r = db.run(immediate ? "BEGIN IMMEDIATE" : "BEGIN"); !r) return std::move(r).error();
  return Transaction(db);
}

Transaction::~Transaction() {
  // A failed write may have rolled back by itself already.
  if (db_ != nullptr && db_->in_transaction()) static_cast<void>(db_->run("ROLLBACK"));
}

Result<void> Transaction::commit() {
  if (!db_->in_transaction())
    return Error{ErrorCode::io, "the disk failed: the entry was not kept", db_->where(), "Try again."};
  if (auto r = db_->run("COMMIT"); !r) return r;  // the destructor rolls back
  db_ = nullptr;
  return {};
}
}  // namespace hb::ledger::detail
