#include "reports/ledger/ledger.hpp"

#include <fmt/format.h>

#include "detail/impl.hpp"
#include "harness/net/clock.hpp"
#include "reports/record/utc.hpp"

namespace hb::ledger {
using detail::Db;
using detail::Described;
using detail::read_only;
using detail::Transaction;

Term name(Flaw f) noexcept {
  switch (f) {
    case Flaw::none:
      return "none";
    case Flaw::rewritten:
      return "rewritten";
    case Flaw::missing:
      return "missing";
    case Flaw::reordered:
      return "reordered";
    case Flaw::truncated:
      return "truncated";
    case Flaw::bad_signature:
      return "bad signature";
    case Flaw::unknown_key:
      return "unknown key";
    case Flaw::bad_head:
      return "bad head";
    case Flaw::missing_text:
      return "missing text";
    case Flaw::derived:
      return "derived rows";
  }
  return "rewritten";
}

Ledger::Ledger(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Ledger::Ledger(Ledger&&) noexcept = default;
Ledger& Ledger::operator=(Ledger&&) noexcept = default;
Ledger::~Ledger() = default;

// ---------------------------------------------------------------- opening

Result<Ledger> Ledger::open(const std::string& place, sign::SigningKey key, Options options) {
  auto impl = std::make_unique<Impl>();
  if (auto r = impl->open(place, true, std::move(options)); !r) return std::move(r).error();
  impl->own.add(key.public_key());
  impl->key = std::move(key);
  return Ledger(std::move(impl));
}

Result<Ledger> Ledger::read(const std::string& place, Options options) {
  auto impl = std::make_unique<Impl>();
  if (auto r = impl->open(place, false, std::move(options)); !r) return std::move(r).error();
  return Ledger(std::move(impl));
}

Result<void> Ledger::Impl::open(const std::string& place, bool for_writing, Options with) {
  auto opened = detail::open_db(place, for_writing, with);
  if (!opened) return std::move(opened).error();
  const auto version = detail::prepare_tables(**opened, for_writing);
  if (!version) return version.error();
  database = std::move(*opened);
  options = std::move(with);
  return {};
}

// ---------------------------------------------------------------- appending

Result<std::optional<Transaction>> Ledger::Impl::snapshot() const {
  if (db().in_transaction()) return std::optional<Transaction>();
  auto t = Transaction::begin(db(), false);
  if (!t) return std::move(t).error();
  return std::optional<Transaction>(std::move(*t));
}

std::int64_t Ledger::Impl::now_s() const {
  return options.utc_now_s ? options.utc_now_s() : net::utc_now_s();
}

namespace {
/// The rows that the next append builds on must fit each other.
Result<Frontier> tip(const Db& db, const sign::KeyRing& own, const sign::SigningKey& key) {
  const auto head = detail::last_head(db);
  if (!head) return head.error();
  const auto last = detail::last_seq(db);
  if (!last) return last.error();
  const Error altered{ErrorCode::altered, "the ledger's last head does not fit its entries", db.where(),
                      "Append nothing more; run `handback ledger verify`."};
  auto frontier = Frontier::from(static_cast<std::uint64_t>(head->size), head->frontier);
  if (*last != head->size) return altered;
  if (!frontier || (head->size > 0 && as_text(frontier->root()) != head->root)) {
    // The frontier follows from the leaves; if it is only that, it is made anew.
    if (auto r = detail::rebuild_frontiers(db); !r) return std::move(r).error();
    const auto again = detail::last_head(db);
    if (!again) return again.error();
    frontier = Frontier::from(static_cast<std::uint64_t>(again->size), again->frontier);
    if (!frontier || as_text(frontier->root()) != head->root) return altered;
  }
  if (head->size == 0) return *frontier;
  const auto signed_head = sign::verify_jws(head->jws, own);
  if (!signed_head)  // another bench of the shop may have been the last: verify() judges its key
    return signed_head.error().code == ErrorCode::unknown_key ? Result<Frontier>(*frontier) : altered;
  const auto j = record::parse_strict(signed_head->payload);
  if (signed_head->kid != key.key_id() || !j || !j->is_object() ||
      j->value("size", nlohmann::json()) != head->size ||
      j->value("root", nlohmann::json()) != hex(as_bytes(head->root)))
    return altered;
  return *frontier;
}
}  // namespace

Result<Receipt> Ledger::Impl::append(Entry e, const Described& d) {
  const auto write = [&]() -> Result<Receipt> {
    auto frontier = tip(db(), own, *key);
    if (!frontier) return std::move(frontier).error();
    const auto leaf = leaf_hash(as_bytes(e.jws()));
    std::vector<Digest> completed;
    frontier->push(leaf, &completed);
    e.seq = static_cast<std::int64_t>(frontier->size());
    const auto root = frontier->root();
    auto jws = sign::make_jws(detail::head_content(e.seq, root, record::utc_text(now_s())), *key);
    if (auto r = detail::insert_entry(db(), e, leaf); !r) return std::move(r).error();
    if (auto r = detail::index_entry(db(), e.seq, d); !r) return std::move(r).error();
    if (auto r = detail::insert_nodes(db(), e.seq, completed); !r) return std::move(r).error();
    if (auto r = detail::insert_head(db(), {e.seq, std::string(as_text(root)), frontier->bytes(), jws}); !r)
      return std::move(r).error();
    return Receipt{e.seq, Head{e.seq, root, std::move(jws)}};
  };
  auto r = write();
  if (!r && together) torn = r.error();
  return r;
}

Result<record::Job> Ledger::open_job(record::Job fields) {
  if (!impl_->writable()) return read_only(impl_->db());
  if (fields.opened_utc.empty()) fields.opened_utc = record::utc_text(impl_->now_s());
  if (!record::utc_seconds(fields.opened_utc))
    return Error{ErrorCode::bad_format, "the opening date is not a time", "/job/opened",
                 "Write it like 2026-11-25T09:30:00Z."};
  return impl_->in_transaction([&]() -> Result<record::Job> {
    const auto& db = impl_->db();
    if (auto r = detail::ensure_index(db, true, impl_->index_counted); !r) return std::move(r).error();
    if (!fields.comeback_of.empty()) {
      const auto earlier = detail::find_seq(db, "job", fields.comeback_of);
      if (!earlier) return earlier.error();
      if (*earlier == 0)
        return Error{ErrorCode::not_found, "the earlier job is not in this ledger", "/job/comeback_of",
                     "Look its number up on the earlier sheet."};
      if (auto r = impl_->stands(fields.comeback_of); !r) return std::move(r).error();
    }
    const auto& o = fields.opened_utc;
    const std::string day = o.substr(0, 4) + o.substr(5, 2) + o.substr(8, 2);
    const auto count = detail::jobs_on(db, day);
    if (!count) return count.error();
    fields.id = fmt::format("J-{}-{:04}", day, *count + 1);
    const auto job = record::to_json(fields);
    if (auto valid = record::job_from_json(job); !valid) return std::move(valid).error();
    auto text =
        sign::sign_concealed({{"schema", detail::kJobSchema}, {"job", job}}, *impl_->key, impl_->salt());
    if (!text) return std::move(text).error();
    Described d;
    d.kind = "job";
    d.created_utc = fields.opened_utc;
    d.id = d.job_id = fields.id;
    auto receipt = impl_->append({0, "job", fields.opened_utc, std::move(*text), {}, {}}, d);
    if (!receipt) return std::move(receipt).error();
    return fields;
  });
}

Result<Receipt> Ledger::append_run(std::string_view record_jws) {
  if (!impl_->writable()) return read_only(impl_->db());
  const auto verified = sign::verify_record(record_jws, impl_->own);
  if (!verified) return verified.error();
  if (!verified->erased.empty())
    return Error{ErrorCode::invalid_argument, "a text of the record is missing", verified->erased.front(),
                 "Append the record as it was signed."};
  const auto d = detail::describe(verified->record);
  if (!d) return d.error();
  return impl_->in_transaction([&]() -> Result<Receipt> {
    const auto& db = impl_->db();
    if (auto r = detail::ensure_index(db, true, impl_->index_counted); !r) return std::move(r).error();
    const auto same = detail::find_seq(db, "run", d->id);
    if (!same) return same.error();
    if (*same != 0) {
      const auto old = detail::read_entry(db, *same);
      if (!old) return old.error();
      if (old->jws() != sign::jws_of(record_jws))
        return Error{ErrorCode::invalid_argument, "a run with this number is in the ledger already",
                     "/run/id", "Give the run a number of its own."};
      auto now = head();
      if (!now) return std::move(now).error();
      return Receipt{*same, std::move(*now)};
    }
    const auto job_seq = detail::find_seq(db, "job", d->job_id);
    if (!job_seq) return job_seq.error();
    if (*job_seq == 0)
      return Error{ErrorCode::not_found, "the run's job is not in this ledger", "/job/id",
                   "Open the job first."};
    if (auto r = impl_->stands(d->job_id); !r) return std::move(r).error();
    return impl_->append({0, "run", d->created_utc, std::string(record_jws), {}, {}}, *d);
  });
}

Result<std::string> Ledger::sign_record(const nlohmann::json& record) const {
  if (!impl_->writable()) return read_only(impl_->db());
  if (const auto d = detail::describe(record); d && d->kind == "run") {
    auto kept = impl_->entry_indexed("run", d->id);
    if (!kept) return std::move(kept).error();
    if (*kept && (*kept)->content == record) return std::move((*kept)->payload);
  }
  return sign::sign_record(record, *impl_->key, impl_->salt());
}

std::string Ledger::key_id() const { return impl_->writable() ? impl_->key->key_id() : std::string(); }

Result<void> Ledger::together(const std::function<Result<void>()>& work) {
  if (!impl_->writable()) return read_only(impl_->db());
  if (impl_->together) return work();
  auto t = Transaction::begin(impl_->db(), true);
  if (!t) return std::move(t).error();
  struct Flag {
    Impl& impl;
    explicit Flag(Impl& i) : impl(i) { impl.together = true, impl.torn.reset(); }
    ~Flag() { impl.together = false; }
    Flag(const Flag&) = delete;
    Flag& operator=(const Flag&) = delete;
  } const flag(*impl_);
  if (auto r = work(); !r) return r;
  if (impl_->torn) return *impl_->torn;
  return t->commit();
}
}  // namespace hb::ledger
