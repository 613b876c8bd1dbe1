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
  std::int64_t layout = 0;  ///< of the tables; below today's only when reading
  mutable bool index_counted = false;
  std::optional<sign::SigningKey> key;
  Options options;
  sign::KeyRing own;          ///< this ledger's key alone
  std::optional<Error> torn;  ///< a write inside together() failed: nothing of it may be kept
  bool together = false;

  [[nodiscard]] detail::Db& db() const { return *database; }
  [[nodiscard]] bool writable() const { return key.has_value(); }
  [[nodiscard]] Result<void> open(const std::string& place, bool for_writing, Options with);
  [[nodiscard]] std::int64_t now_s() const;
  /// Entry and head, in the transaction that the caller has begun.
  [[nodiscard]] Result<Receipt> append(Entry e, const detail::Described& d);
  /// Runs `work` in a transaction of its own, or in the one of together().
  template <class F>
  [[nodiscard]] auto in_transaction(F&& work) -> decltype(work());
  /// For reads that must fit each other: a transaction, or nothing when one is under way.
  [[nodiscard]] Result<std::optional<detail::Transaction>> snapshot() const;
  [[nodiscard]] Result<Entry> entry_named(std::string_view kind, std::string_view id) const;
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
