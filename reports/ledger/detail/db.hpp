// A database behind an interface: SQLite and PostgreSQL implement it, and the rest of the ledger knows
// neither. The SQL that is shared is what both understand, with parameters $1, $2, ... in order of their
// first use. Threads: one at a time.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "reports/ledger/ledger.hpp"

namespace hb::ledger::detail {

class Statement {
 public:
  struct Backend {
    Backend() = default;
    Backend(const Backend&) = delete;
    Backend& operator=(const Backend&) = delete;
    virtual ~Backend() = default;
    virtual void bind(std::int64_t v) = 0;
    virtual void bind(std::string_view v) = 0;
    virtual void bind_blob(ByteView v) = 0;
    virtual Result<bool> step() = 0;
    [[nodiscard]] virtual std::int64_t integer(int column) const = 0;
    [[nodiscard]] virtual std::string text(int column) const = 0;
  };
  explicit Statement(std::unique_ptr<Backend> backend) : b_(std::move(backend)) {}
  Statement& bind(std::int64_t v) { return b_->bind(v), *this; }
  Statement& bind(std::string_view v) { return b_->bind(v), *this; }
  Statement& bind_blob(ByteView v) { return b_->bind_blob(v), *this; }
  /// True: a row is there. False: done.
  [[nodiscard]] Result<bool> step() { return b_->step(); }
  /// For statements without rows.
  [[nodiscard]] Result<void> run() {
    auto r = step();
    if (!r) return std::move(r).error();
    return {};
  }
  [[nodiscard]] std::int64_t integer(int column) const { return b_->integer(column); }  ///< NULL: 0
  [[nodiscard]] std::string text(int column) const { return b_->text(column); }         ///< also blobs
 private:
  std::unique_ptr<Backend> b_;
};

/// One step of the way from an empty database to today's layout.
struct SchemaStep {
  std::int64_t to_version;
  const char* sql;
};

class Db {
 public:
  Db() = default;
  Db(const Db&) = delete;
  Db& operator=(const Db&) = delete;
  virtual ~Db() = default;
  [[nodiscard]] virtual Result<void> run(const char* sql) const = 0;  ///< one or more statements
  [[nodiscard]] virtual Result<Statement> prepare(std::string_view sql) const = 0;
  [[nodiscard]] virtual bool in_transaction() const = 0;
  /// `write` takes the write lock at once, so that two appending programs wait for each other instead of
  /// failing half way. Otherwise everything that is read is of one moment.
  [[nodiscard]] virtual Result<void> begin(bool write) const = 0;
  [[nodiscard]] virtual Result<void> commit() const = 0;
  /// Tables that a database has: 0, 1 (others than a ledger's), or 2 (a ledger's).
  [[nodiscard]] virtual Result<int> looks_like() const = 0;
  [[nodiscard]] virtual std::span<const SchemaStep> schema() const = 0;
  [[nodiscard]] virtual Result<bool> has_table(const char* name) const = 0;
  /// Tables of this layout are there from now on; 0: none yet.
  void tables_made(std::int64_t layout) { layout_ = layout; }
  [[nodiscard]] std::int64_t layout() const { return layout_; }
  /// After rows were deleted: takes what they held out of the place where they lay, as far as this program
  /// can. Gives what it could not do, one sentence; empty: all is done. Not inside a transaction.
  [[nodiscard]] virtual Result<std::string> scrub() const = 0;
  /// For errors; never a password.
  [[nodiscard]] const std::string& where() const { return where_; }

 protected:
  std::string where_;
  std::int64_t layout_ = 0;
};

/// `place` as in Ledger::open.
[[nodiscard]] Result<std::unique_ptr<Db>> open_db(const std::string& place, bool writable,
                                                  const Options& options);

/// Rolls back unless committed.
class Transaction {
 public:
  [[nodiscard]] static Result<Transaction> begin(const Db& db, bool write);
  Transaction(Transaction&& other) noexcept : db_(std::exchange(other.db_, nullptr)) {}
  Transaction& operator=(Transaction&&) = delete;
  ~Transaction();
  [[nodiscard]] Result<void> commit();

 private:
  explicit Transaction(const Db& db) : db_(&db) {}
  const Db* db_;
};

/// Rows in order of their first column, a page at a time, so that neither a client's memory nor an open
/// statement is needed for all of them. `sql` ends with "... WHERE key > $1 ORDER BY key".
class Cursor {
 public:
  Cursor(const Db& db, std::string sql, std::int64_t after = INT64_MIN);
  [[nodiscard]] Result<bool> next();
  [[nodiscard]] const Statement& row() const { return *page_; }

 private:
  const Db& db_;
  std::string sql_;
  std::int64_t after_;
  int left_ = 0;
  std::optional<Statement> page_;
};
}  // namespace hb::ledger::detail
