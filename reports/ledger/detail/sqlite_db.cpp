#include "sqlite_db.hpp"

#include <sqlite3.h>

#include <algorithm>
#include <filesystem>
#include <thread>

namespace hb::ledger::detail {
namespace {
constexpr const char* kVersion1 = R"sql(
CREATE TABLE schema_version(version INTEGER NOT NULL);
INSERT INTO schema_version VALUES(1);
CREATE TABLE entry(
  seq INTEGER PRIMARY KEY,
  leaf_hash BLOB NOT NULL CHECK(length(leaf_hash) = 32),
  kind TEXT NOT NULL,
  created_utc TEXT NOT NULL,
  payload TEXT NOT NULL);
CREATE TABLE head(
  size INTEGER PRIMARY KEY REFERENCES entry(seq),
  root BLOB NOT NULL CHECK(length(root) = 32),
  frontier BLOB NOT NULL,
  jws TEXT NOT NULL);
CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER head_is_never_changed BEFORE UPDATE ON head BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER head_is_never_deleted BEFORE DELETE ON head BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TABLE derived_index(
  seq INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  id TEXT NOT NULL,
  job_id TEXT NOT NULL,
  is_release INTEGER NOT NULL,
  day TEXT NOT NULL,
  number INTEGER NOT NULL,
  UNIQUE(kind, id));
CREATE INDEX derived_by_job ON derived_index(job_id, seq);
CREATE INDEX derived_by_day ON derived_index(day, number);
)sql";

// Roots of the full subtrees above the leaves, so that a proof needs a handful of rows. They follow from the
// entries and prove themselves: a path that does not lead to the signed root is not handed out.
constexpr const char* kVersion2 = R"sql(
CREATE TABLE IF NOT EXISTS node(
  level INTEGER NOT NULL,
  place INTEGER NOT NULL,
  hash BLOB NOT NULL CHECK(length(hash) = 32),
  PRIMARY KEY(level, place)) WITHOUT ROWID;
UPDATE schema_version SET version = 2;
)sql";

// Typed texts lie apart from what was signed, so that they can be erased: "d1~d2~...~" of
// record/disclosure.hpp. A row goes only when an erasure of its entry was appended before. The frontier of a
// head follows from the entries, so it may be mended; what was signed may not be touched.
constexpr const char* kVersion3 = R"sql(
CREATE TABLE IF NOT EXISTS disclosure(
  seq INTEGER PRIMARY KEY REFERENCES entry(seq),
  disclosures TEXT NOT NULL CHECK(length(disclosures) > 0));
CREATE TRIGGER IF NOT EXISTS disclosure_is_never_changed BEFORE UPDATE ON disclosure
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER IF NOT EXISTS disclosure_goes_only_when_erased BEFORE DELETE ON disclosure
WHEN EXISTS(SELECT 1 FROM entry WHERE seq = OLD.seq) AND NOT EXISTS(
  SELECT 1 FROM derived_index t JOIN derived_index e ON e.kind = 'erasure' AND e.id IN (t.id, t.job_id)
  WHERE t.seq = OLD.seq)
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
DROP TRIGGER IF EXISTS head_is_never_changed;
CREATE TRIGGER head_is_never_changed BEFORE UPDATE OF size, root, jws ON head
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
UPDATE schema_version SET version = 3;
)sql";

constexpr SchemaStep kSchema[] = {{1, kVersion1}, {2, kVersion2}, {3, kVersion3}};

Error in_use(const std::string& where = {}) {
  return {ErrorCode::io, "the ledger is in use by another program", where,
          "Wait until it has finished, then try again."};
}

Error to_error(int code, const std::string& where) {
  const auto io = [&](std::string what, std::string next) {
    return Error{ErrorCode::io, std::move(what), where, std::move(next)};
  };
  switch (code & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return in_use(where);
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

class SqliteStatement final : public Statement::Backend {
 public:
  SqliteStatement(sqlite3_stmt* s, const std::string& where) : s_(s), where_(where) {}
  void bind(std::int64_t v) override { sqlite3_bind_int64(s_.get(), next_++, v); }
  void bind(std::string_view v) override {
    sqlite3_bind_text64(s_.get(), next_++, v.data(), v.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
  }
  void bind_blob(ByteView v) override {
    if (v.empty())
      sqlite3_bind_zeroblob(s_.get(), next_++, 0);
    else
      sqlite3_bind_blob64(s_.get(), next_++, v.data(), v.size(), SQLITE_TRANSIENT);
  }
  Result<bool> step() override {
    const int code = sqlite3_step(s_.get());
    if (code == SQLITE_ROW) return true;
    if (code == SQLITE_DONE) return false;
    sqlite3_reset(s_.get());
    return to_error(code, where_);
  }
  [[nodiscard]] std::int64_t integer(int column) const override {
    return sqlite3_column_int64(s_.get(), column);
  }
  [[nodiscard]] std::string text(int column) const override {
    const auto* p = static_cast<const char*>(sqlite3_column_blob(s_.get(), column));
    const auto n = sqlite3_column_bytes(s_.get(), column);
    return p == nullptr ? std::string() : std::string(p, static_cast<std::size_t>(n));
  }

 private:
  struct Finalize {
    void operator()(sqlite3_stmt* s) const { sqlite3_finalize(s); }
  };
  std::unique_ptr<sqlite3_stmt, Finalize> s_;
  const std::string& where_;
  int next_ = 1;
};

class SqliteDb final : public Db {
 public:
  Result<void> open(const std::string& file, bool writable, const Options& options) {
    where_ = file;
    std::error_code ec;
    if (!writable && !std::filesystem::exists(file, ec))
      return Error{ErrorCode::not_found, "there is no ledger", file, "Name the ledger's file."};
    sqlite3* raw = nullptr;
    const int flags = (writable ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READONLY) |
                      SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE;
    const int code =
        sqlite3_open_v2(file.c_str(), &raw, flags, options.vfs.empty() ? nullptr : options.vfs.c_str());
    db_.reset(raw);
    if (code != SQLITE_OK) return to_error(code, where_);
    sqlite3_busy_timeout(raw, static_cast<int>(options.busy_timeout.count()));
    if (!writable) return {};
    if (auto r = use_write_ahead_log(options.busy_timeout); !r) return r;
    return run(
        "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;"
        "PRAGMA secure_delete = ON");
  }
  [[nodiscard]] Result<void> run(const char* sql) const override {
    const int code = sqlite3_exec(db_.get(), sql, nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) return to_error(code, where_);
    return {};
  }
  [[nodiscard]] Result<Statement> prepare(std::string_view sql) const override {
    sqlite3_stmt* raw = nullptr;
    const int code = sqlite3_prepare_v2(db_.get(), sql.data(), static_cast<int>(sql.size()), &raw, nullptr);
    Statement s(std::make_unique<SqliteStatement>(raw, where_));
    if (code != SQLITE_OK) return to_error(code, where_);
    return s;
  }
  [[nodiscard]] bool in_transaction() const override { return sqlite3_get_autocommit(db_.get()) == 0; }
  [[nodiscard]] Result<void> begin(bool write) const override {
    return run(write ? "BEGIN IMMEDIATE" : "BEGIN");
  }
  [[nodiscard]] Result<void> commit() const override { return run("COMMIT"); }
  [[nodiscard]] Result<int> looks_like() const override {
    auto s = prepare("SELECT count(*), sum(name = 'schema_version') FROM sqlite_master");
    if (!s) return std::move(s).error();
    if (auto row = s->step(); !row) return std::move(row).error();
    return s->integer(0) == 0 ? 0 : s->integer(1) == 0 ? 1 : 2;
  }
  [[nodiscard]] std::span<const SchemaStep> schema() const override { return kSchema; }
  [[nodiscard]] Result<bool> has_table(const char* name) const override {
    auto s = prepare("SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = $1");
    if (!s) return std::move(s).error();
    if (auto row = s->bind(std::string_view(name)).step(); !row) return std::move(row).error();
    return s->integer(0) != 0;
  }
  /// VACUUM writes the whole file anew, without what was deleted or moved; the log is then emptied. Both wait
  /// for readers that still see the past.
  [[nodiscard]] Result<std::string> scrub() const override {
    const std::string busy =
        "another program has the ledger open, so the erased text may still lie in its files";
    for (const char* sql : {"VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"}) {
      auto s = prepare(sql);
      if (!s) return std::move(s).error();
      const auto row = s->step();
      if (!row && row.error().what == in_use().what) return busy;
      if (!row) return row.error();
      if (*row && s->integer(0) != 0) return busy;  // the checkpoint's first column
    }
    return std::string();
  }

 private:
  /// Tried again until `busy_timeout` is over: when two programs open a new file at once, SQLite says "busy"
  /// for this change without asking its busy handler, because waiting there could be waiting for each other.
  [[nodiscard]] Result<void> use_write_ahead_log(std::chrono::milliseconds busy_timeout) const {
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

  struct Close {
    void operator()(sqlite3* d) const { sqlite3_close_v2(d); }
  };
  std::unique_ptr<sqlite3, Close> db_;
};
}  // namespace

Result<std::unique_ptr<Db>> open_sqlite(const std::string& file, bool writable, const Options& options) {
  auto db = std::make_unique<SqliteDb>();
  if (auto r = db->open(file, writable, options); !r) return std::move(r).error();
  return std::unique_ptr<Db>(std::move(db));
}
}  // namespace hb::ledger::detail
