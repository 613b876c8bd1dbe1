#include "store.hpp"

#include <algorithm>

#include "harness/base/text.hpp"
#include "reports/record/utc.hpp"

namespace hb::ledger::detail {
namespace {
Result<std::int64_t> one_integer(const Db& db, std::string_view sql) {
  auto s = db.prepare(sql);
  if (!s) return std::move(s).error();
  auto row = s->step();
  if (!row) return std::move(row).error();
  return *row ? s->integer(0) : 0;
}

Digest to_digest(const std::string& blob) {
  Digest d{};
  std::copy_n(as_bytes(blob).begin(), std::min(blob.size(), d.size()), d.begin());
  return d;
}

std::string text_of(const nlohmann::json& j, const char* object, const char* member) {
  const auto o = j.find(object);
  if (o == j.end() || !o->is_object()) return {};
  const auto m = o->find(member);
  return m != o->end() && m->is_string() ? m->get<std::string>() : std::string();
}
}  // namespace

namespace {
Error not_a_ledger(const Db& db) {
  return {ErrorCode::bad_format, "this database is not a ledger", db.where(), "Name the right one."};
}

/// A number above today's is believed, because newer tables are not known here. Else the tables themselves
/// tell, whatever the number says: verify names it when it is wrong.
Result<std::int64_t> known_layout(const Db& db) {
  const auto version = one_integer(db, "SELECT max(version) FROM schema_version");
  if (!version || *version > kSchemaVersion) return version;
  auto layout = layout_of_tables(db);
  if (layout && *layout == 0) return not_a_ledger(db);
  return layout;
}

/// From `version` to today's layout, in the transaction that the caller has begun.
Result<void> migrate(const Db& db, std::int64_t version) {
  for (const auto& step : db.schema()) {
    if (step.to_version <= version) continue;
    if (auto r = db.run(step.sql); !r) return r;
    if (step.to_version == 2)
      if (auto r = rebuild_nodes(db); !r) return r;
  }
  return {};
}
}  // namespace

Result<std::int64_t> layout_of_tables(const Db& db) {
  const std::pair<const char*, std::int64_t> youngest_first[] = {
      {"disclosure", 3}, {"node", 2}, {"entry", 1}};
  for (const auto& [table, layout] : youngest_first) {
    const auto there = db.has_table(table);
    if (!there) return there.error();
    if (*there) return layout;
  }
  return 0;
}

Result<void> mend_layout_number(const Db& db) {
  const auto layout = layout_of_tables(db);
  if (!layout) return layout.error();
  if (auto r = db.run("DELETE FROM schema_version"); !r) return r;
  auto s = db.prepare("INSERT INTO schema_version(version) VALUES($1)");
  if (!s) return std::move(s).error();
  return s->bind(*layout).run();
}

Result<std::int64_t> prepare_tables(Db& db, bool writable) {
  const auto layout = [&]() -> Result<std::int64_t> {
    const auto looks = db.looks_like();
    if (!looks) return looks.error();
    if (*looks == 1) return not_a_ledger(db);
    if (*looks == 0 && writable) return 0;
    if (*looks == 0)
      return Error{ErrorCode::not_found, "there is no ledger yet", db.where(), "Take a job in first."};
    auto version = known_layout(db);
    if (!version) return version;
    db.tables_made(*version);
    if (*version > kSchemaVersion)
      return Error{ErrorCode::bad_format,
                   "the ledger was made by a newer version of this program (layout " +
                       std::to_string(*version) + ", this one knows up to " + std::to_string(kSchemaVersion) +
                       ")",
                   db.where(), "Use that version, or a newer one."};
    return version;
  };
  auto version = layout();
  if (!version || !writable || *version == kSchemaVersion) return version;
  auto t = Transaction::begin(db, true);
  if (!t) return std::move(t).error();
  version = layout();  // another process may have been first
  if (!version) return version;
  if (auto r = migrate(db, *version); !r) return std::move(r).error();
  if (auto r = t->commit(); !r) return std::move(r).error();
  db.tables_made(kSchemaVersion);
  return kSchemaVersion;
}

namespace {
Result<HeadRow> one_head(Result<Statement> s) {
  if (!s) return std::move(s).error();
  auto row = s->step();
  if (!row) return std::move(row).error();
  if (!*row) return HeadRow{};
  return HeadRow{s->integer(0), s->text(1), s->text(2), s->text(3)};
}
}  // namespace

Result<HeadRow> last_head(const Db& db) {
  return one_head(db.prepare("SELECT size, root, frontier, jws FROM head ORDER BY size DESC LIMIT 1"));
}

Result<HeadRow> head_of(const Db& db, std::int64_t size) {
  auto s = db.prepare("SELECT size, root, frontier, jws FROM head WHERE size = $1");
  if (s) s->bind(size);
  return one_head(std::move(s));
}

namespace {
std::string entry_columns(const Db& db) {
  return db.layout() >= 3
             ? "SELECT e.seq, e.kind, e.created_utc, e.payload, e.leaf_hash, d.disclosures FROM "
               "entry e LEFT JOIN disclosure d ON d.seq = e.seq WHERE "
             : "SELECT e.seq, e.kind, e.created_utc, e.payload, e.leaf_hash, '' FROM entry e WHERE ";
}
}  // namespace

Cursor entries_after(const Db& db, std::int64_t seq, const char* kind) {
  const std::string only = kind == nullptr ? std::string() : std::string("e.kind = '") + kind + "' AND ";
  return {db, entry_columns(db) + only + "e.seq > $1 ORDER BY e.seq", seq};
}

Cursor heads(const Db& db) {
  return {db, "SELECT size, root, jws, frontier FROM head WHERE size > $1 ORDER BY size"};
}

Result<Entry> to_entry(const Statement& row) {
  Entry e{row.integer(0), row.text(1), row.text(2), row.text(3), {}, {}};
  const auto disclosures = row.text(5);
  const Error altered{ErrorCode::altered, "an entry of the ledger cannot be read",
                      "entry " + std::to_string(e.seq), "Run `handback ledger verify`."};
  auto payload = sign::peek(e.payload);
  if (!payload) return altered;
  if (record::is_concealed(*payload)) (e.payload += '~') += disclosures;
  // Texts that do not belong to these signed bytes are left out, as erased ones are; verify() names them.
  auto revealed = record::reveal(*payload, disclosures);
  if (!revealed) revealed = record::reveal(std::move(*payload), "");
  if (!revealed) return altered;
  e.content = std::move(revealed->document);
  e.erased = std::move(revealed->erased);
  return e;
}

Result<void> insert_nodes(const Db& db, std::int64_t size, std::span<const Digest> completed) {
  for (std::size_t i = 0; i < completed.size(); ++i) {
    auto s = db.prepare(
        "INSERT INTO node(level, place, hash) VALUES($1,$2,$3) ON CONFLICT(level, place) DO UPDATE SET hash "
        "= "
        "excluded.hash");
    if (!s) return std::move(s).error();
    const auto level = static_cast<std::int64_t>(i + 1);
    if (auto r = s->bind(level).bind((size >> level) - 1).bind_blob(completed[i]).run(); !r) return r;
  }
  return {};
}

Result<void> rebuild_nodes(const Db& db) {
  if (auto r = db.run("DELETE FROM node"); !r) return r;
  Frontier f;
  auto rows = entries_after(db);
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) return {};
    std::vector<Digest> completed;
    f.push(to_digest(rows.row().text(4)), &completed);
    if (auto r = insert_nodes(db, static_cast<std::int64_t>(f.size()), completed); !r) return r;
  }
}

Result<Digest> node_at(const Db& db, unsigned level, std::uint64_t place) {
  auto s = db.prepare(level == 0 ? "SELECT leaf_hash FROM entry WHERE seq = $1"
                                 : "SELECT hash FROM node WHERE place = $1 AND level = $2");
  if (!s) return std::move(s).error();
  s->bind(static_cast<std::int64_t>(place) + (level == 0 ? 1 : 0));
  if (level != 0) s->bind(std::int64_t{level});
  auto row = s->step();
  if (!row) return std::move(row).error();
  if (!*row)
    return Error{ErrorCode::altered, "a node of the ledger's tree is missing", db.where(),
                 "Run `handback ledger repair`."};
  return to_digest(s->text(0));
}

Result<std::int64_t> last_seq(const Db& db) { return one_integer(db, "SELECT max(seq) FROM entry"); }

Result<void> insert_entry(const Db& db, const Entry& e, const Digest& leaf) {
  auto s = db.prepare("INSERT INTO entry(seq, leaf_hash, kind, created_utc, payload) VALUES($1,$2,$3,$4,$5)");
  if (!s) return std::move(s).error();
  if (auto r =
          s->bind(e.seq).bind_blob(leaf).bind(e.kind).bind(e.created_utc).bind(sign::jws_of(e.payload)).run();
      !r)
    return r;
  const auto disclosures = sign::disclosures_of(e.payload);
  if (disclosures.empty()) return {};
  auto d = db.prepare("INSERT INTO disclosure(seq, disclosures) VALUES($1,$2)");
  if (!d) return std::move(d).error();
  return d->bind(e.seq).bind(disclosures).run();
}

Result<void> insert_head(const Db& db, const HeadRow& h) {
  auto s = db.prepare("INSERT INTO head(size, root, frontier, jws) VALUES($1,$2,$3,$4)");
  if (!s) return std::move(s).error();
  return s->bind(h.size).bind_blob(as_bytes(h.root)).bind_blob(as_bytes(h.frontier)).bind(h.jws).run();
}

Result<Entry> read_entry(const Db& db, std::int64_t seq) {
  auto s = db.prepare(entry_columns(db) + "e.seq = $1");
  if (!s) return std::move(s).error();
  auto row = s->bind(seq).step();
  if (!row) return std::move(row).error();
  if (!*row)
    return Error{ErrorCode::not_found, "the ledger has no such entry", "entry " + std::to_string(seq), ""};
  return to_entry(*s);
}

namespace {
using nlohmann::json;

json subject(const Described& d) {
  return {{"of", d.of_job ? "job" : "run"}, {"id", d.id}, {"job", d.job_id}, {"at", d.created_utc}};
}

/// Of a withdrawal or an erasure: what it would be signed as is what it must be.
Result<Described> describe_subject(const json& content, const char* kind, const Error& bad) {
  const auto it = content.find(kind);
  if (it == content.end() || !it->is_object()) return bad;
  Described d;
  d.kind = kind;
  d.created_utc = text_of(content, kind, "at");
  d.id = text_of(content, kind, "id");
  d.job_id = text_of(content, kind, "job");
  d.of_job = text_of(content, kind, "of") == "job";
  d.reason = text_of(content, kind, "reason");
  d.key_id = text_of(content, "bench", "key_id");
  for (const auto& e : it->value("entries", json::array())) {
    if (!e.is_number_integer()) return bad;
    d.entries.push_back(e.get<std::int64_t>());
  }
  const bool withdrawal = d.kind == "withdrawal";
  const bool known =
      std::find(kWithdrawalReasons.begin(), kWithdrawalReasons.end(), d.reason) != kWithdrawalReasons.end();
  if (d.id.empty() || d.job_id.empty() || withdrawal != known || (d.of_job && d.id != d.job_id) ||
      !record::utc_seconds(d.created_utc))
    return bad;
  if (content != (withdrawal ? withdrawal_content(d) : erasure_content(d))) return bad;
  return d;
}
}  // namespace

json withdrawal_content(const Described& d) {
  auto w = subject(d);
  w["reason"] = d.reason;
  return {{"schema", kWithdrawalSchema}, {"withdrawal", std::move(w)}, {"bench", {{"key_id", d.key_id}}}};
}

json erasure_content(const Described& d) {
  auto e = subject(d);
  e["entries"] = d.entries;
  return {{"schema", kErasureSchema}, {"erasure", std::move(e)}, {"bench", {{"key_id", d.key_id}}}};
}

Result<Described> describe(const nlohmann::json& content) {
  const Error bad{ErrorCode::bad_format, "an entry is none of the kinds that a ledger holds", "ledger",
                  "Run `handback ledger verify`."};
  if (!content.is_object()) return bad;
  const auto schema = content.value("schema", nlohmann::json());
  if (schema == kWithdrawalSchema) return describe_subject(content, "withdrawal", bad);
  if (schema == kErasureSchema) return describe_subject(content, "erasure", bad);
  Described d;
  if (schema == kJobSchema) {
    d.kind = "job";
    d.created_utc = text_of(content, "job", "opened");
    d.id = d.job_id = text_of(content, "job", "id");
  } else if (schema == kRunSchema) {
    d.kind = "run";
    d.created_utc = text_of(content, "run", "finished");
    d.id = text_of(content, "run", "id");
    d.job_id = text_of(content, "job", "id");
    d.release = text_of(content, "run", "kind") == "release";
  }
  if (d.id.empty() || d.job_id.empty()) return bad;
  return d;
}

IndexRow index_row(std::int64_t seq, const Described& d) {
  // "J-YYYYMMDD-NNNN"
  const bool numbered = d.kind == "job" && d.id.size() > 11;
  return {seq,
          d.kind,
          d.id,
          d.job_id,
          std::int64_t{d.release},
          numbered ? d.id.substr(2, 8) : std::string(),
          numbered ? to_int(std::string_view(d.id).substr(11)).value_or(0) : 0};
}

IndexRow to_index_row(const Statement& row) {
  return {row.integer(0), row.text(1), row.text(2), row.text(3), row.integer(4), row.text(5), row.integer(6)};
}

Cursor index_rows(const Db& db) {
  return {
      db,
      "SELECT seq, kind, id, job_id, is_release, day, number FROM derived_index WHERE seq > $1 ORDER BY seq"};
}

/// A row that is in the way is one that lies: the index is then counted as not matching, and made anew.
Result<void> index_entry(const Db& db, std::int64_t seq, const Described& d) {
  auto s = db.prepare(
      "INSERT INTO derived_index(seq, kind, id, job_id, is_release, day, number) "
      "VALUES($1,$2,$3,$4,$5,$6,$7) ON CONFLICT DO NOTHING");
  if (!s) return std::move(s).error();
  const auto r = index_row(seq, d);
  return s->bind(r.seq)
      .bind(r.kind)
      .bind(r.id)
      .bind(r.job_id)
      .bind(r.release)
      .bind(r.day)
      .bind(r.number)
      .run();
}

namespace {
/// Rows of the index are counted once: the last number is looked at each time.
Result<bool> index_differs(const Db& db, bool counted) {
  const auto last = last_seq(db);
  if (!last) return last.error();
  const auto indexed =
      one_integer(db, counted ? "SELECT max(seq) FROM derived_index" : "SELECT count(*) FROM derived_index");
  if (!indexed) return indexed.error();
  return *last != *indexed;
}
}  // namespace

Result<void> rebuild_index(const Db& db) {
  if (auto r = db.run("DELETE FROM derived_index"); !r) return r;
  auto rows = entries_after(db);
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) return {};
    const auto content = sign::peek(rows.row().text(3));
    if (!content) return content.error();
    const auto d = describe(*content);
    if (!d) return d.error();
    if (auto r = index_entry(db, rows.row().integer(0), *d); !r) return r;
  }
}

Result<void> ensure_index(const Db& db, bool writable, bool& counted) {
  const auto differs = index_differs(db, counted);
  if (!differs) return differs.error();
  if (!*differs) {
    counted = true;
    return {};
  }
  if (!writable)
    return Error{ErrorCode::altered, "the ledger's index does not match its entries", db.where(),
                 "Run `handback ledger repair`."};
  std::optional<Transaction> own;
  if (!db.in_transaction()) {
    auto t = Transaction::begin(db, true);
    if (!t) return std::move(t).error();
    own.emplace(std::move(*t));
  }
  if (auto r = rebuild_index(db); !r) return r;
  return own ? own->commit() : Result<void>();
}

Result<std::int64_t> find_seq(const Db& db, std::string_view kind, std::string_view id) {
  auto s = db.prepare("SELECT seq FROM derived_index WHERE kind = $1 AND id = $2");
  if (!s) return std::move(s).error();
  auto row = s->bind(kind).bind(id).step();
  if (!row) return std::move(row).error();
  return *row ? s->integer(0) : 0;
}

Result<std::vector<std::int64_t>> run_seqs(const Db& db, std::string_view job_id) {
  auto s = db.prepare("SELECT seq FROM derived_index WHERE job_id = $1 AND kind = 'run' ORDER BY seq");
  if (!s) return std::move(s).error();
  s->bind(job_id);
  std::vector<std::int64_t> out;
  for (;;) {
    auto row = s->step();
    if (!row) return std::move(row).error();
    if (!*row) return out;
    out.push_back(s->integer(0));
  }
}

Result<std::int64_t> jobs_on(const Db& db, std::string_view day) {
  auto s = db.prepare("SELECT coalesce(max(number),0) FROM derived_index WHERE day = $1");
  if (!s) return std::move(s).error();
  auto row = s->bind(day).step();
  if (!row) return std::move(row).error();
  return s->integer(0);
}

Result<std::int64_t> count(const Db& db, std::string_view sql) { return one_integer(db, sql); }

Result<void> rebuild_frontiers(const Db& db) {
  Frontier f;
  auto rows = entries_after(db);
  auto kept = heads(db);
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    auto head = kept.next();
    if (!head) return std::move(head).error();
    if (!*more || !*head) return {};
    f.push(to_digest(rows.row().text(4)));
    if (kept.row().text(3) == f.bytes()) continue;
    auto s = db.prepare("UPDATE head SET frontier = $1 WHERE size = $2");
    if (!s) return std::move(s).error();
    const auto bytes = f.bytes();
    if (auto r = s->bind_blob(as_bytes(bytes)).bind(kept.row().integer(0)).run(); !r) return r;
  }
}

Result<void> delete_disclosures(const Db& db, const std::vector<std::int64_t>& entries) {
  for (const auto seq : entries) {
    auto s = db.prepare("DELETE FROM disclosure WHERE seq = $1");
    if (!s) return std::move(s).error();
    if (auto r = s->bind(seq).run(); !r) return r;
  }
  return {};
}

Result<bool> delete_stray_disclosures(const Db& db) {
  const auto before = count(db, "SELECT count(*) FROM disclosure");
  if (!before) return before.error();
  if (auto r = db.run("DELETE FROM disclosure WHERE seq NOT IN (SELECT seq FROM entry)"); !r)
    return std::move(r).error();
  auto rows = entries_after(db, INT64_MIN, "erasure");
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) break;
    const auto e = to_entry(rows.row());
    const auto d = e ? describe(e->content) : Result<Described>(e.error());
    if (!d) return d.error();
    if (auto r = delete_disclosures(db, d->entries); !r) return std::move(r).error();
  }
  const auto after = count(db, "SELECT count(*) FROM disclosure");
  if (!after) return after.error();
  return *after != *before;
}

std::string head_content(std::int64_t size, ByteView root, std::string_view at_utc) {
  std::string s = R"({"at":")";
  s += at_utc;
  s += R"(","root":")" + hex(root) + R"(","schema":")";
  s += kHeadSchema;
  s += R"(","size":)" + std::to_string(size) + "}";
  return s;
}
}  // namespace hb::ledger::detail
