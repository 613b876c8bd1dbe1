#include "reports/ledger/withdrawal.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "detail/audit.hpp"
#include "detail/impl.hpp"
#include "detail/signed_head.hpp"
#include "reports/record/utc.hpp"

namespace hb::ledger {
using detail::Described;

namespace {
bool is_job(std::string_view id) { return id.substr(0, 2) == "J-"; }

/// The entry that decides, checked as `ledger verify` does.
Result<void> holds(const Entry& e, const sign::KeyRing* ring) {
  if (ring == nullptr) return {};
  const auto where = "entry " + std::to_string(e.seq);
  const auto bad = detail::check_signature(sign::verify_jws(e.jws(), *ring), e.seq, e.created_utc, where);
  if (!bad) return {};
  return Error{bad->flaw == Flaw::unknown_key ? ErrorCode::unknown_key : ErrorCode::altered, bad->says, where,
               "Run `handback ledger verify`."};
}

/// Whether a JWS may speak of this: far cheaper than reading it as JSON. The text is ASCII without escapes.
bool mentions(const std::string& jws, const std::string& what) {
  const auto first = jws.find('.'), last = jws.rfind('.');
  if (first == std::string::npos || last <= first) return true;
  const auto payload = from_base64url(std::string_view(jws).substr(first + 1, last - first - 1));
  return !payload || as_text(*payload).find(what) != std::string_view::npos;
}
}  // namespace

Result<std::optional<Withdrawal>> Ledger::Impl::withdrawal_of(std::string_view id, std::string_view job_id,
                                                              const sign::KeyRing* ring) const {
  auto rows = detail::entries_after(db(), upto, "withdrawal");
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) break;
    auto e = detail::to_entry(rows.row());
    if (!e) return std::move(e).error();
    // Inside a transaction that may yet be rolled back nothing is remembered.
    taken_back.push_back(std::move(*e));
  }
  std::optional<Withdrawal> found;
  for (const auto& e : taken_back) {
    const auto d = detail::describe(e.content);
    if (!d || d->kind != "withdrawal") continue;
    if (d->of_job ? d->id != job_id : d->id != id) continue;
    if (auto r = holds(e, ring); !r) return std::move(r).error();
    found = Withdrawal{e.seq, d->of_job, d->id, d->job_id, d->reason, d->created_utc, d->key_id};
    break;
  }
  if (db().in_transaction())
    std::erase_if(taken_back, [&](const Entry& e) { return e.seq > upto; });
  else if (!taken_back.empty())
    upto = taken_back.back().seq;
  return found;
}

Result<void> Ledger::Impl::stands(std::string_view job_id) const {
  const auto gone = withdrawal_of(job_id, job_id, nullptr);
  if (!gone) return gone.error();
  if (!*gone) return {};
  return Error{ErrorCode::refused,
               fmt::format("the job {} was withdrawn at {}: {}", job_id, (*gone)->at_utc, (*gone)->reason),
               std::string(job_id), "Take the job in again: handback intake --help"};
}

Result<std::optional<Withdrawal>> Ledger::withdrawn(std::string_view id, const sign::KeyRing* ring) const {
  if (is_job(id)) return impl_->withdrawal_of(id, id, ring);
  const auto e = impl_->entry_named("run", id);
  if (!e && e.error().code == ErrorCode::not_found) return std::optional<Withdrawal>();
  if (!e) return e.error();
  return impl_->withdrawal_of(id, e->content["job"].value("id", std::string()), ring);
}

Result<std::optional<Entry>> Ledger::superseded_by(std::string_view run_id, const sign::KeyRing* ring) const {
  const auto e = find(run_id);
  if (!e) return e.error();
  const auto own = detail::describe(e->content);
  if (!own) return own.error();
  std::optional<Entry> last;
  auto rows = detail::entries_after(impl_->db(), e->seq, "run");
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) break;
    if (!mentions(rows.row().text(3), "\"" + own->job_id + "\"")) continue;
    auto later = detail::to_entry(rows.row());
    if (!later) return std::move(later).error();
    const auto d = detail::describe(later->content);
    if (!d || !d->release || d->job_id != own->job_id) continue;
    const auto gone = impl_->withdrawal_of(d->id, d->job_id, ring);
    if (!gone) return gone.error();
    if (*gone) continue;
    if (auto r = holds(*later, ring); !r) return std::move(r).error();
    last = std::move(*later);
  }
  return last;
}

Result<Withdrawal> Ledger::withdraw(std::string_view id, std::string_view reason) {
  if (!impl_->writable()) return detail::read_only(impl_->db());
  if (std::find(kWithdrawalReasons.begin(), kWithdrawalReasons.end(), reason) == kWithdrawalReasons.end())
    return Error{ErrorCode::invalid_argument, "this is no reason for a withdrawal", "reason",
                 fmt::format("One of: {}.", fmt::join(kWithdrawalReasons, ", "))};
  return impl_->in_transaction([&]() -> Result<Withdrawal> {
    const auto e = impl_->entry_named(is_job(id) ? "job" : "run", id);
    if (!e) return e.error();
    Described d;
    d.kind = "withdrawal";
    d.created_utc = record::utc_text(impl_->now_s());
    d.id = std::string(id);
    d.job_id = e->content["job"].value("id", std::string());
    d.of_job = is_job(id);
    d.reason = std::string(reason);
    d.key_id = impl_->key->key_id();
    const auto before = impl_->withdrawal_of(d.id, d.job_id, nullptr);
    if (!before) return before.error();
    if (*before)
      return Error{ErrorCode::refused,
                   fmt::format("{} was withdrawn before, at {}: {}", (*before)->id, (*before)->at_utc,
                               (*before)->reason),
                   std::string(id), "Its texts can be taken out: handback ledger erase --help"};
    auto text = record::canonical(detail::withdrawal_content(d));
    if (!text) return std::move(text).error();
    const auto receipt =
        impl_->append({0, d.kind, d.created_utc, sign::make_jws(*text, *impl_->key), {}, {}}, d);
    if (!receipt) return receipt.error();
    return Withdrawal{receipt->seq, d.of_job, d.id, d.job_id, d.reason, d.created_utc, d.key_id};
  });
}

Result<Erasure> Ledger::erase(std::string_view id) {
  if (!impl_->writable()) return detail::read_only(impl_->db());
  if (impl_->together)
    return Error{ErrorCode::invalid_argument, "texts are erased in a transaction of their own", "erase", ""};
  auto done = impl_->in_transaction([&]() -> Result<Erasure> {
    const auto e = impl_->entry_named(is_job(id) ? "job" : "run", id);
    if (!e) return e.error();
    const auto job_id = e->content["job"].value("id", std::string());
    const auto gone = impl_->withdrawal_of(id, job_id, nullptr);
    if (!gone) return gone.error();
    if (!*gone)
      return Error{ErrorCode::refused, "only what was withdrawn can be erased", std::string(id),
                   fmt::format("Withdraw it first: handback ledger withdraw {} {} --reason REASON --erase",
                               is_job(id) ? "--job" : "--run", id)};
    std::vector<Entry> entries{*e};
    if (is_job(id)) {
      auto runs = impl_->all_runs(id);
      if (!runs) return std::move(runs).error();
      for (auto& r : *runs) entries.push_back(std::move(r));
    }
    Erasure out;
    for (const auto& entry : entries) {
      if (entry.kind == "run") out.runs.push_back(entry.content["run"]["id"].get<std::string>());
      if (entry.payload.find('~') == std::string::npos)
        out.kept.push_back(entry.seq);
      else if (!sign::disclosures_of(entry.payload).empty())
        out.entries.push_back(entry.seq);
    }
    if (out.kept.size() == entries.size())
      return Error{ErrorCode::refused,
                   "this was signed before texts were kept apart, so its texts cannot be taken out",
                   std::string(id), "It stays withdrawn: no sheet, count or choice uses it."};
    if (out.entries.empty()) return out;
    Described d;
    d.kind = "erasure";
    d.created_utc = record::utc_text(impl_->now_s());
    d.id = std::string(id);
    d.job_id = job_id;
    d.of_job = is_job(id);
    d.entries = out.entries;
    d.key_id = impl_->key->key_id();
    auto text = record::canonical(detail::erasure_content(d));
    if (!text) return std::move(text).error();
    const auto receipt =
        impl_->append({0, d.kind, d.created_utc, sign::make_jws(*text, *impl_->key), {}, {}}, d);
    if (!receipt) return receipt.error();
    if (auto r = detail::delete_disclosures(impl_->db(), out.entries); !r) return std::move(r).error();
    return out;
  });
  if (!done) return done;
  auto left = impl_->db().scrub();
  if (!left) return std::move(left).error();
  done->left = std::move(*left);
  return done;
}

Result<Audit> Ledger::repair(const sign::KeyRing& ring) {
  if (!impl_->writable()) return detail::read_only(impl_->db());
  bool texts = false;
  auto found = impl_->in_transaction([&]() -> Result<Audit> {
    const auto& db = impl_->db();
    auto a = detail::audit(db, ring, {});
    if (!a || a->flaw == Flaw::none) return a;
    if (a->flaw != Flaw::derived)
      return Error{a->flaw == Flaw::unknown_key ? ErrorCode::unknown_key : ErrorCode::altered,
                   "what was signed is not as it was written, and that cannot be mended here: " + a->says,
                   "entry " + std::to_string(a->first_bad),
                   "Restore the ledger from its backup, or give the missing key with --key."};
    if (auto r = detail::rebuild_index(db); !r) return std::move(r).error();
    if (auto r = detail::rebuild_nodes(db); !r) return std::move(r).error();
    if (auto r = detail::rebuild_frontiers(db); !r) return std::move(r).error();
    if (auto r = detail::mend_layout_number(db); !r) return std::move(r).error();
    auto stray = detail::delete_stray_disclosures(db);
    if (!stray) return std::move(stray).error();
    texts = *stray;
    const auto now = detail::audit(db, ring, {});
    if (!now) return now;
    if (!now->sound())
      return Error{ErrorCode::altered, "the derived rows could not be mended: " + now->says, db.where(),
                   "Restore the ledger from its backup."};
    return a;
  });
  if (found && texts)
    if (const auto left = impl_->db().scrub(); !left) return left.error();
  return found;
}
}  // namespace hb::ledger
