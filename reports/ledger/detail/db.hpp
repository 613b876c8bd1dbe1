// SQLite behind values: the only place that knows its result codes. Threads: one at a time.
#pragma once

#include <sqlite3.h>

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "harness/base/encoding.hpp"
#include "harness/base/result.hpp"

namespace hb::ledger::detail {

class Statement {
 public:
  Statement& bind(std::int64_t v);
  Statement& bind(std::string_view v);
  Statement& bind_blob(ByteView v);
  /// True: a row is there. False: done.
  [[nodiscard]] Result<bool> step();
  /// For statements without rows.
  [[nodiscard]] Result<void> run();
  [[nodiscard]] std::int64_t integer(int column) const;
  [[nodiscard]] std::string text(int column) const;  ///< also blobs
 private:
  friend class Db;
  struct Finalize {
    void operator()(sqlite3_stmt* s) const { sqlite3_finalize(s); }
  };
  std::unique_ptr<sqlite3_stmt, Finalize> s_;
  std::string where_;
  int next_ = 1;
};

class Db {
 public:
  [[nodiscard]] static Result<Db> open(const std::filesystem::path& file, bool writable,
                                       std::chrono::milliseconds busy_timeout, const std::string& vfs = {});
  [[nodiscard]] Result<void> run(const char* sql) const;
  /// Tried again until `busy_timeout` is over: when two programs open a new file at once, SQLite says "busy"
  /// for this change without asking its busy handler, because waiting there could be waiting for each other.
  [[nodiscard]] Result<void> use_write_ahead_log(std::chrono::milliseconds busy_timeout) const;
  [[nodiscard]] Result<Statement> prepare(std::string_view sql) const;
  [[nodiscard]] bool in_transaction() const { return sqlite3_get_autocommit(db_.get()) == 0; }
  [[nodiscard]] const std::string& where() const { return where_; }

 private:
  struct Close {
    void operator()(sqlite3* d) const { sqlite3_close_v2(d); }
  };
  std::unique_ptr<sqlite3, Close> db_;
  std::string where_;
};

/// Rolls back unless committed. `immediate` takes the write lock at once, so that two appending processes
/// wait for each other instead of failing half way.
class Transaction {
 public:
  [[nodiscard]] static Result<Transaction> begin(const Db& db, bool immediate);
  Transaction(Transaction&& other) noexcept : db_(std::exchange(other.db_, nullptr)) {}
  Transaction& operator=(Transaction&&) = delete;
  ~Transaction();
  [[nodiscard]] Result<void> commit();

 private:
  explicit Transaction(const Db& db) : db_(&db) {}
  const Db* db_;
};
}  // namespace hb::ledger::detail
