#include "detail/audit.hpp"
#include "detail/impl.hpp"
#include "detail/signed_head.hpp"

namespace hb::ledger {
namespace {
using detail::check_signature;
using detail::read_head;

struct Row {
  std::int64_t seq;
  std::string leaf, kind, created_utc, payload;
};

Audit flaw(Flaw f, std::int64_t seq, std::string says) { return {f, 0, seq, std::move(says)}; }

std::string entry_n(std::int64_t seq) { return "entry " + std::to_string(seq); }

class Auditor {
 public:
  Auditor(const detail::Db& db, const sign::KeyRing& ring) : db_(db), ring_(ring) {}

  Result<Audit> run(std::string_view earlier_head) {
    if (!earlier_head.empty()) {
      const auto v = sign::verify_jws(earlier_head, ring_);
      if (auto bad = check_signature(v, 0, "", "the earlier head")) return *bad;
      earlier_ = read_head(v->payload);
      if (!earlier_) return flaw(Flaw::bad_head, 0, "the earlier head is no head of a ledger");
    }
    auto rows = detail::entries_after(db_);
    auto heads = detail::heads(db_);
    for (;;) {
      auto more = rows.next();
      if (!more) return std::move(more).error();
      if (!*more) break;
      const auto& r = rows.row();
      const Row row{r.integer(0), r.text(4), r.text(1), r.text(2), r.text(3)};
      auto bad = check(row, heads);
      if (!bad) return std::move(bad).error();
      if (*bad) return counted(**bad);
    }
    return finish(heads);
  }

 private:
  Audit counted(Audit a) const {
    a.entries = size();
    return a;
  }
  [[nodiscard]] std::int64_t size() const { return static_cast<std::int64_t>(frontier_.size()); }

  Result<std::optional<Audit>> check(const Row& row, detail::Cursor& heads) {
    const auto expected = size() + 1;
    if (row.seq != expected)
      return std::optional(flaw(Flaw::missing, expected, entry_n(expected) + " is missing"));
    const auto leaf = leaf_hash(as_bytes(row.payload));
    if (as_text(leaf) != row.leaf)
      return std::optional(flaw(Flaw::rewritten, row.seq, entry_n(row.seq) + " was rewritten"));
    auto has_head = heads.next();
    if (!has_head) return std::move(has_head).error();
    if (!*has_head || heads.row().integer(0) != row.seq)
      return std::optional(flaw(Flaw::bad_head, row.seq, "the head of " + entry_n(row.seq) + " is missing"));
    const std::string root = heads.row().text(1);
    if (auto bad = check_head(row.seq, root, heads.row().text(2))) return bad;
    Frontier next = frontier_;
    next.push(leaf);
    if (as_text(next.root()) != root) return displaced(row.seq, root);
    if (auto bad = check_entry(row)) return bad;
    frontier_ = std::move(next);
    if (earlier_ && earlier_->size == size() && earlier_->root_hex != hex(frontier_.root()))
      return std::optional(flaw(Flaw::rewritten, size(),
                                "up to " + entry_n(size()) + " the ledger is not what the earlier head saw"));
    return std::optional<Audit>();
  }

  std::optional<Audit> check_head(std::int64_t seq, const std::string& root, const std::string& jws) {
    const auto what = "the head of " + entry_n(seq);
    const auto v = sign::verify_jws(jws, ring_);
    const auto h = v ? read_head(v->payload) : std::nullopt;
    if (auto bad = check_signature(v, seq, h ? h->at_utc : "", what)) {
      if (bad->flaw == Flaw::bad_signature) bad->flaw = Flaw::bad_head;
      return bad;
    }
    if (!h || h->size != seq || h->root_hex != hex(as_bytes(root)))
      return flaw(Flaw::bad_head, seq, what + " is not what was signed");
    return std::nullopt;
  }

  std::optional<Audit> check_entry(const Row& row) const {
    const auto v = sign::verify_jws(row.payload, ring_);
    if (auto bad = check_signature(v, row.seq, row.created_utc, entry_n(row.seq))) return bad;
    const auto content = record::parse_strict(v->payload);
    const auto d = content ? detail::describe(*content) : Result<detail::Described>(Error{});
    if (!d || d->kind != row.kind || d->created_utc != row.created_utc)
      return flaw(Flaw::rewritten, row.seq, entry_n(row.seq) + ": its row does not say what was signed");
    return std::nullopt;
  }

  /// The row's content is whole but does not lead to the signed root. If another row's does, they were
  /// swapped.
  Result<std::optional<Audit>> displaced(std::int64_t seq, const std::string& root) const {
    auto later = detail::entries_after(db_, seq);
    for (;;) {
      auto more = later.next();
      if (!more) return std::move(more).error();
      if (!*more) break;
      Frontier trial = frontier_;
      trial.push(leaf_hash(as_bytes(later.row().text(3))));
      if (as_text(trial.root()) == root)
        return std::optional(
            flaw(Flaw::reordered, seq,
                 entry_n(seq) + " now stands at place " + std::to_string(later.row().integer(0))));
    }
    return std::optional(flaw(Flaw::rewritten, seq, entry_n(seq) + " was replaced"));
  }

  Result<Audit> finish(detail::Cursor& heads) const {
    auto more = heads.next();
    if (!more) return std::move(more).error();
    const auto end = size();
    if (*more)
      return counted(
          flaw(Flaw::truncated, end + 1, "the end is cut off: " + entry_n(end + 1) + " is missing"));
    if (earlier_ && earlier_->size > end)
      return counted(flaw(Flaw::truncated, end + 1, "the earlier head saw more entries than there are now"));
    return counted(flaw(Flaw::none, 0, "every entry is as it was written"));
  }

  const detail::Db& db_;
  const sign::KeyRing& ring_;
  Frontier frontier_;
  std::optional<detail::SignedHead> earlier_;
};
}  // namespace

Result<Audit> detail::audit(const Db& db, const sign::KeyRing& ring, std::string_view earlier_head) {
  return Auditor(db, ring).run(earlier_head);
}

Result<Audit> Ledger::verify(const sign::KeyRing& ring, std::string_view earlier_head) const {
  const auto snapshot = impl_->snapshot();
  if (!snapshot) return snapshot.error();
  return detail::audit(impl_->db(), ring, earlier_head);
}
}  // namespace hb::ledger
