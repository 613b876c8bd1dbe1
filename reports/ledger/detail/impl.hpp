#pragma once

#include "store.hpp"

namespace hb::ledger {
namespace detail {
inline Error read_only(const Db& db) {
  return Error{ErrorCode::invalid_argument, "the ledger was opened for reading", db.where(),
               "Open it with the bench's key."};
}
}  // namespace detail

struct Ledger::Impl {
  std::unique_ptr<detail::Db> database;
  mutable bool index_counted = false;
  std::optional<sign::SigningKey> key;
  Options options;
  sign::KeyRing own;          ///< this ledger's key alone
  std::optional<Error> torn;  ///< a write inside together() failed: nothing of it may be kept
  bool together = false;
  /// Read once: entries are never changed, so only those after `upto` are looked at again.
  mutable std::vector<Entry> taken_back;
  mutable std::int64_t upto = 0;

  [[nodiscard]] detail::Db& db() const { return *database; }
  [[nodiscard]] bool writable() const { return key.has_value(); }
  [[nodiscard]] Result<void> open(const std::string& place, bool for_writing, Options with);
  [[nodiscard]] std::int64_t now_s() const;
  [[nodiscard]] record::Salt salt() const { return options.salt ? options.salt : sign::random_salt; }
  /// Errors: refused when the job was withdrawn.
  [[nodiscard]] Result<void> stands(std::string_view job_id) const;
  /// Entry and head, in the transaction that the caller has begun.
  [[nodiscard]] Result<Receipt> append(Entry e, const detail::Described& d);
  /// Runs `work` in a transaction of its own, or in the one of together().
  template <class F>
  [[nodiscard]] auto in_transaction(F&& work) -> decltype(work());
  /// For reads that must fit each other: a transaction, or nothing when one is under way.
  [[nodiscard]] Result<std::optional<detail::Transaction>> snapshot() const;
  /// What the index finds; empty: nothing.
  [[nodiscard]] Result<std::optional<Entry>> entry_indexed(std::string_view kind, std::string_view id) const;
  /// Found by the index, else by looking through the entries: an index that lies hides nothing.
  [[nodiscard]] Result<Entry> entry_named(std::string_view kind, std::string_view id) const;
  /// The withdrawal of a run (of this job) or of a job. `ring`: its signature is checked.
  [[nodiscard]] Result<std::optional<Withdrawal>> withdrawal_of(std::string_view id, std::string_view job_id,
                                                                const sign::KeyRing* ring) const;
  [[nodiscard]] Result<std::vector<Entry>> all_runs(std::string_view job_id) const;
};

template <class F>
auto Ledger::Impl::in_transaction(F&& work) -> decltype(work()) {
  if (together) return work();
  auto t = detail::Transaction::begin(db(), true);
  if (!t) return std::move(t).error();
  auto r = work();
  if (!r) return r;
  if (auto c = t->commit(); !c) return std::move(c).error();
  return r;
}
}  // namespace hb::ledger
