#include <fmt/format.h>

#include "detail/impl.hpp"

namespace hb::ledger {
Result<void> Ledger::each(const std::function<Result<void>(const Entry&)>& visit, const char* kind) const {
  auto rows = detail::entries_after(impl_->db(), INT64_MIN, kind);
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) return {};
    const auto e = detail::to_entry(rows.row());
    if (!e) return e.error();
    if (auto r = visit(*e); !r) return r;
  }
}

Result<std::vector<record::Job>> Ledger::jobs() const {
  std::vector<record::Job> out;
  auto rows = detail::entries_after(impl_->db(), INT64_MIN, "job");
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) return out;
    const auto e = detail::to_entry(rows.row());
    if (!e) return e.error();
    auto j = record::job_from_json(e->content.value("job", nlohmann::json()));
    if (!j) return std::move(j).error();
    const auto gone = impl_->withdrawal_of(j->id, j->id, nullptr);
    if (!gone) return gone.error();
    if (!*gone) out.push_back(std::move(*j));
  }
}

Result<std::optional<Entry>> Ledger::Impl::entry_indexed(std::string_view kind, std::string_view id) const {
  if (auto r = detail::ensure_index(db(), writable(), index_counted); !r) {
    if (writable() || r.error().code != ErrorCode::altered) return std::move(r).error();
    return std::optional<Entry>();
  }
  const auto seq = detail::find_seq(db(), kind, id);
  if (!seq) return seq.error();
  if (*seq == 0) return std::optional<Entry>();
  auto e = detail::read_entry(db(), *seq);
  if (!e && e.error().code == ErrorCode::not_found) return std::optional<Entry>();
  if (!e) return std::move(e).error();
  const auto d = detail::describe(e->content);
  if (!d || d->kind != kind || d->id != id) return std::optional<Entry>();
  return std::optional(std::move(*e));
}

Result<Entry> Ledger::Impl::entry_named(std::string_view kind, std::string_view id) const {
  auto indexed = entry_indexed(kind, id);
  if (!indexed) return std::move(indexed).error();
  if (*indexed) return std::move(**indexed);
  auto rows = detail::entries_after(db(), INT64_MIN, kind == "job" ? "job" : "run");
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) break;
    const auto payload = sign::peek(rows.row().text(3));
    const auto d = payload ? detail::describe(*payload) : Result<detail::Described>(payload.error());
    if (d && d->kind == kind && d->id == id) return detail::to_entry(rows.row());
  }
  return Error{ErrorCode::not_found, fmt::format("the ledger has no such {}", kind), db().where(),
               "Look at `handback ledger list` for what is there."};
}

Result<record::Job> Ledger::job(std::string_view job_id) const {
  const auto e = impl_->entry_named("job", job_id);
  if (!e) return e.error();
  if (auto r = impl_->stands(job_id); !r) return std::move(r).error();
  return record::job_from_json(e->content.value("job", nlohmann::json()));
}

Result<Entry> Ledger::job_entry(std::string_view job_id) const { return impl_->entry_named("job", job_id); }

Result<Entry> Ledger::find(std::string_view run_id) const { return impl_->entry_named("run", run_id); }

Result<std::vector<Entry>> Ledger::Impl::all_runs(std::string_view job_id) const {
  if (auto r = detail::ensure_index(db(), writable(), index_counted); !r) return std::move(r).error();
  const auto seqs = detail::run_seqs(db(), job_id);
  if (!seqs) return seqs.error();
  std::vector<Entry> out;
  for (const auto seq : *seqs) {
    auto e = detail::read_entry(db(), seq);
    if (!e) return std::move(e).error();
    const auto d = detail::describe(e->content);
    if (!d || d->kind != "run" || d->job_id != job_id)
      return Error{ErrorCode::altered, "the ledger's index does not match its entries", db().where(),
                   "Run `handback ledger repair`."};
    out.push_back(std::move(*e));
  }
  return out;
}

Result<std::vector<Entry>> Ledger::runs(std::string_view job_id) const {
  auto all = impl_->all_runs(job_id);
  if (!all) return all;
  std::vector<Entry> out;
  for (auto& e : *all) {
    const auto gone = impl_->withdrawal_of(e.content["run"]["id"].get<std::string>(), job_id, nullptr);
    if (!gone) return gone.error();
    if (!*gone) out.push_back(std::move(e));
  }
  return out;
}

namespace {
Head to_head(detail::HeadRow row) {
  Head h{row.size, sha256({}), std::move(row.jws)};
  if (row.root.size() == h.root.size()) {
    const auto bytes = as_bytes(row.root);
    std::copy(bytes.begin(), bytes.end(), h.root.begin());
  }
  return h;
}
}  // namespace

Result<Head> Ledger::head() const {
  auto row = detail::last_head(impl_->db());
  if (!row) return std::move(row).error();
  return to_head(std::move(*row));
}

Result<Head> Ledger::head(std::int64_t size) const {
  auto row = detail::head_of(impl_->db(), size);
  if (!row) return std::move(row).error();
  if (row->size != size || size < 1)
    return Error{ErrorCode::not_found, "the ledger has no head of that size", fmt::format("size {}", size),
                 "Look at `handback ledger head` for the last one."};
  return to_head(std::move(*row));
}

namespace {
/// For an older layout, and when kept nodes do not lead to the signed root.
Result<std::vector<Digest>> leaf_hashes(const detail::Db& db) {
  std::vector<Digest> leaves;
  auto rows = detail::entries_after(db);
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) return leaves;
    const auto blob = rows.row().text(4);
    Digest d{};
    std::copy_n(as_bytes(blob).begin(), std::min(blob.size(), d.size()), d.begin());
    leaves.push_back(d);
  }
}

Error tip_does_not_fit(const detail::Db& db) {
  return {ErrorCode::altered, "the ledger's last head does not fit its entries", db.where(),
          "Run `handback ledger verify`."};
}
}  // namespace

Result<Inclusion> Ledger::inclusion(std::int64_t seq) const {
  const auto snapshot = impl_->snapshot();  // leaves and head of the same moment
  if (!snapshot) return snapshot.error();
  const auto& db = impl_->db();
  auto tip = head();
  if (!tip) return std::move(tip).error();
  if (seq < 1 || seq > tip->size)
    return Error{ErrorCode::not_found, "the ledger has no such entry", "entry " + std::to_string(seq), ""};
  const auto index = static_cast<std::size_t>(seq - 1), size = static_cast<std::size_t>(tip->size);
  Inclusion out{seq, {}, {}, std::move(*tip)};
  const auto leads = [&] { return verify_inclusion(out.leaf, index, size, out.path, out.head.root); };
  if (impl_->db().layout() >= 2) {
    const NodeAt node = [&](unsigned level, std::uint64_t place) {
      return detail::node_at(db, level, place);
    };
    const auto leaf = node(0, index);
    auto path = inclusion_proof(node, size, index);
    if (leaf && path) {
      out.leaf = *leaf;
      out.path = std::move(*path);
      if (leads()) return out;
    }
  }
  const auto leaves = leaf_hashes(db);
  if (!leaves) return leaves.error();
  if (leaves->size() != size) return tip_does_not_fit(db);
  out.leaf = (*leaves)[index];
  out.path = inclusion_proof(*leaves, index);
  if (!leads()) return tip_does_not_fit(db);
  return out;
}

Result<Consistency> Ledger::consistency(std::int64_t old_size) const {
  const auto snapshot = impl_->snapshot();
  if (!snapshot) return snapshot.error();
  const auto& db = impl_->db();
  auto tip = head();
  if (!tip) return std::move(tip).error();
  auto old = head(old_size);
  if (!old) return std::move(old).error();
  const auto m = static_cast<std::size_t>(old->size), size = static_cast<std::size_t>(tip->size);
  Consistency out{std::move(*old), {}, std::move(*tip)};
  const auto leads = [&] { return verify_consistency(m, size, out.old_head.root, out.head.root, out.path); };
  if (impl_->db().layout() >= 2) {
    const NodeAt node = [&](unsigned level, std::uint64_t place) {
      return detail::node_at(db, level, place);
    };
    auto path = consistency_proof(node, size, m);
    if (path) {
      out.path = std::move(*path);
      if (leads()) return out;
    }
  }
  const auto leaves = leaf_hashes(db);
  if (!leaves) return leaves.error();
  if (leaves->size() != size) return tip_does_not_fit(db);
  out.path = consistency_proof(*leaves, m);
  if (!leads()) return tip_does_not_fit(db);
  return out;
}
}  // namespace hb::ledger
