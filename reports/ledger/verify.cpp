#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "detail/audit.hpp"
#include "detail/impl.hpp"
#include "detail/signed_head.hpp"

namespace hb::ledger {
namespace {
using detail::check_signature;
using detail::read_head;

struct Row {
  std::int64_t seq;
  std::string leaf, kind, created_utc, payload, disclosures;
};

Audit flaw(Flaw f, std::int64_t seq, std::string says) {
  Audit a;
  a.flaw = f;
  a.first_bad = seq;
  a.says = std::move(says);
  return a;
}

std::string entry_n(std::int64_t seq) { return "entry " + std::to_string(seq); }

/// Of an entry, what later ones may speak of.
struct Subject {
  std::string kind, id, job_id;
  enum { none, there, gone } text = none;
};

class Auditor {
 public:
  Auditor(const detail::Db& db, const sign::KeyRing& ring)
      : db_(db), ring_(ring), index_{detail::index_rows(db)} {}

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
      const Row row{r.integer(0), r.text(4), r.text(1), r.text(2), r.text(3), r.text(5)};
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
    std::vector<Digest> completed;
    next.push(leaf, &completed);
    if (as_text(next.root()) != root) return displaced(row.seq, root);
    if (auto bad = check_entry(row)) return bad;
    frontier_ = std::move(next);
    if (heads.row().text(3) != frontier_.bytes())
      derived("the frontier of the head of " + entry_n(row.seq) + " is not that of its entries");
    if (auto r = check_nodes(completed); !r) return std::move(r).error();
    if (auto r = check_index(row.seq); !r) return std::move(r).error();
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

  std::optional<Audit> check_entry(const Row& row) {
    const auto v = sign::verify_jws(row.payload, ring_);
    if (auto bad = check_signature(v, row.seq, row.created_utc, entry_n(row.seq))) return bad;
    auto content = record::parse_strict(v->payload);
    auto d = content ? detail::describe(*content) : Result<detail::Described>(Error{});
    if (!d || d->kind != row.kind || d->created_utc != row.created_utc)
      return flaw(Flaw::rewritten, row.seq, entry_n(row.seq) + ": its row does not say what was signed");
    Subject s{d->kind, d->id, d->job_id, Subject::none};
    const bool concealed = record::is_concealed(*content);
    const auto revealed = record::reveal(std::move(*content), row.disclosures);
    if (!revealed)
      return flaw(Flaw::rewritten, row.seq,
                  "the texts of " + entry_n(row.seq) + " are not those that were signed");
    if (concealed) s.text = revealed->erased.empty() ? Subject::there : Subject::gone;
    if (s.text == Subject::gone && !row.disclosures.empty())
      return flaw(Flaw::missing_text, row.seq, "a text of " + entry_n(row.seq) + " is gone");
    if (s.text == Subject::gone) unexplained_.insert(row.seq);
    subjects_.push_back(std::move(s));
    described_ = std::move(*d);
    const std::string who = v->label.empty() ? v->kid : v->label + " (" + v->kid + ")";
    if (row.kind == "withdrawal") return withdrawal(row.seq, described_, who);
    if (row.kind == "erasure") return erasure(row.seq, described_, who);
    return std::nullopt;
  }

  std::optional<Audit> withdrawal(std::int64_t seq, const detail::Described& d, const std::string& who) {
    const bool known = std::any_of(subjects_.begin(), subjects_.end(), [&](const Subject& s) {
      return s.kind == (d.of_job ? "job" : "run") && s.id == d.id && s.job_id == d.job_id;
    });
    if (!known) return flaw(Flaw::rewritten, seq, entry_n(seq) + " takes back what is not there");
    withdrawn_.push_back(d.id);
    notes_.push_back(fmt::format("{} {} withdrawn on {}, by {}: {}", d.of_job ? "job" : "run", d.id,
                                 d.created_utc, who, d.reason));
    return std::nullopt;
  }

  std::optional<Audit> erasure(std::int64_t seq, const detail::Described& d, const std::string& who) {
    if (std::find(withdrawn_.begin(), withdrawn_.end(), d.id) == withdrawn_.end())
      return flaw(Flaw::rewritten, seq, entry_n(seq) + " erases what was not withdrawn");
    std::string numbers;
    for (const auto e : d.entries) {
      if (e < 1 || e >= seq) return flaw(Flaw::rewritten, seq, entry_n(seq) + " erases what is not there");
      const auto& s = subjects_[static_cast<std::size_t>(e - 1)];
      if (s.text == Subject::none || (d.of_job ? s.job_id != d.id : s.id != d.id))
        return flaw(Flaw::rewritten, seq, entry_n(seq) + " erases what does not belong to it");
      unexplained_.erase(e);
      if (s.text == Subject::there)
        derived(fmt::format("the texts of {}, erased on {}, are there again", entry_n(e), d.created_utc));
      (numbers += numbers.empty() ? "" : ", ") += std::to_string(e);
    }
    notes_.push_back(fmt::format("texts of {} {} erased on {}, by {}: entries {}", d.of_job ? "job" : "run",
                                 d.id, d.created_utc, who, numbers));
    return std::nullopt;
  }

  // ---- rows that follow from the entries

  void derived(std::string says) {
    ++differences_;
    if (derived_.size() < Audit::kShown) derived_.push_back(std::move(says));
  }

  /// Level by level, each in order of its places: as they become complete.
  Result<void> check_nodes(const std::vector<Digest>& completed) {
    if (db_.layout() < 2) return {};
    for (std::size_t i = 0; i < completed.size(); ++i) {
      const auto level = static_cast<std::int64_t>(i + 1), place = (size() >> level) - 1;
      if (levels_.size() == i)
        levels_.push_back({detail::Cursor(
            db_, fmt::format("SELECT place, hash FROM node WHERE level = {} AND place > $1 ORDER BY place",
                             level))});
      const auto what = fmt::format("the tree's node {} of level {}", place, level);
      auto there = levels_[i].at(place, [&](std::int64_t stray) {
        derived(fmt::format("the tree's node {} of level {} belongs to no entries", stray, level));
      });
      if (!there) return there.error();
      ++nodes_;
      if (!*there)
        derived(what + " is missing");
      else if (levels_[i].rows.row().text(1) != as_text(completed[i]))
        derived(what + " is not that of its entries");
    }
    return {};
  }

  Result<void> check_index(std::int64_t seq) {
    auto there = index_.at(seq, [&](std::int64_t stray) {
      derived(fmt::format("row {} of the index belongs to no entry", stray));
    });
    if (!there) return there.error();
    if (!*there)
      derived(fmt::format("row {} of the index is missing", seq));
    else if (detail::to_index_row(index_.rows.row()) != detail::index_row(seq, described_))
      derived(fmt::format("row {} of the index does not say what its entry says", seq));
    return {};
  }

  /// What lies behind the last entry, and what no entry asked for.
  Result<void> check_rest() {
    auto behind = index_.at(INT64_MAX, [&](std::int64_t stray) {
      derived(fmt::format("row {} of the index belongs to no entry", stray));
    });
    if (!behind) return behind.error();
    if (*behind) derived("the last row of the index belongs to no entry");
    if (db_.layout() >= 2) {
      const auto n = detail::count(db_, "SELECT count(*) FROM node");
      if (!n) return n.error();
      if (*n > nodes_) derived(fmt::format("the tree has {} nodes that belong to no entries", *n - nodes_));
    }
    if (db_.layout() >= 3) {
      const auto n =
          detail::count(db_, "SELECT count(*) FROM disclosure WHERE seq NOT IN (SELECT seq FROM entry)");
      if (!n) return n.error();
      if (*n > 0) derived(fmt::format("there are texts of {} entries that are not there", *n));
    }
    const auto layout = detail::layout_of_tables(db_);
    if (!layout) return layout.error();
    const auto right =
        detail::count(db_, fmt::format("SELECT count(*) FROM schema_version WHERE version = {}", *layout));
    if (!right) return right.error();
    const auto all = detail::count(db_, "SELECT count(*) FROM schema_version");
    if (!all) return all.error();
    if (*right != 1 || *all != 1) derived("the number of the layout is not that of the tables");
    return {};
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

  Result<Audit> finish(detail::Cursor& heads) {
    auto more = heads.next();
    if (!more) return std::move(more).error();
    const auto end = size();
    if (*more)
      return counted(
          flaw(Flaw::truncated, end + 1, "the end is cut off: " + entry_n(end + 1) + " is missing"));
    if (earlier_ && earlier_->size > end)
      return counted(flaw(Flaw::truncated, end + 1, "the earlier head saw more entries than there are now"));
    if (!unexplained_.empty()) {
      const auto seq = *unexplained_.begin();
      return counted(
          flaw(Flaw::missing_text, seq,
               "the texts of " + entry_n(seq) + " are gone, and no entry says that they were erased"));
    }
    if (auto r = check_rest(); !r) return std::move(r).error();
    auto a = counted(flaw(Flaw::none, 0, "every entry is as it was written"));
    if (differences_ > 0) {
      a.flaw = Flaw::derived;
      a.says = fmt::format(
          "every signed entry is as it was written, but {} {} from them {} not. Mend that: handback ledger "
          "repair",
          differences_, differences_ == 1 ? "row that follows" : "rows that follow",
          differences_ == 1 ? "is" : "are");
    }
    a.derived = std::move(derived_);
    a.notes = std::move(notes_);
    return a;
  }

  /// Derived rows beside what they should be.
  struct Beside {
    detail::Cursor rows;
    bool held = false;  ///< a row was read that lies further on
    /// Moves to this key; false: it is not there. `stray` gets keys that were passed over.
    Result<bool> at(std::int64_t key, const std::function<void(std::int64_t)>& stray) {
      for (;;) {
        if (!held) {
          auto more = rows.next();
          if (!more) return more;
          if (!*more) return false;
        }
        const auto here = rows.row().integer(0);
        held = here > key;
        if (here >= key) return here == key;
        stray(here);
      }
    }
  };

  const detail::Db& db_;
  const sign::KeyRing& ring_;
  Frontier frontier_;
  Beside index_;
  std::vector<Beside> levels_;
  std::vector<Subject> subjects_;
  std::set<std::int64_t> unexplained_;
  std::vector<std::string> withdrawn_, derived_, notes_;
  detail::Described described_;
  std::int64_t differences_ = 0, nodes_ = 0;
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
