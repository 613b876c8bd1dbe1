#include "store.hpp"

#include "harness/base/text.hpp"

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

Result<std::int64_t> prepare_tables(Db& db, bool writable) {
  const auto layout = [&]() -> Result<std::int64_t> {
    const auto looks = db.looks_like();
    if (!looks) return looks.error();
    if (*looks == 1) return not_a_ledger(db);
    if (*looks == 0 && writable) return 0;
    if (*looks == 0)
      return Error{ErrorCode::not_found, "there is no ledger yet", db.where(), "Take a job in first."};
    db.tables_made();
    auto version = one_integer(db, "SELECT version FROM schema_version");
    if (!version) return version;
    if (*version < 1) return not_a_ledger(db);
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
  db.tables_made();
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

Cursor entries_after(const Db& db, std::int64_t seq) {
  return {db, "SELECT seq, kind, created_utc, payload, leaf_hash FROM entry WHERE seq > $1 ORDER BY seq",
          seq};
}

Cursor heads(const Db& db) { return {db, "SELECT size, root, jws FROM head WHERE size > $1 ORDER BY size"}; }

Result<void> insert_nodes(const Db& db, std::int64_t size, std::span<const Digest> completed) {
  for (std::size_t i = 0; i < completed.size(); ++i) {
    auto s = db.prepare("INSERT INTO node(level, place, hash) VALUES($1,$2,$3)");
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
                 "Run `handback ledger verify`."};
  return to_digest(s->text(0));
}

Result<std::int64_t> last_seq(const Db& db) { return one_integer(db, "SELECT max(seq) FROM entry"); }

Result<void> insert_entry(const Db& db, const Entry& e, const Digest& leaf) {
  auto s = db.prepare("INSERT INTO entry(seq, leaf_hash, kind, created_utc, payload) VALUES($1,$2,$3,$4,$5)");
  if (!s) return std::move(s).error();
  return s->bind(e.seq).bind_blob(leaf).bind(e.kind).bind(e.created_utc).bind(e.payload).run();
}

Result<void> insert_head(const Db& db, const HeadRow& h) {
  auto s = db.prepare("INSERT INTO head(size, root, frontier, jws) VALUES($1,$2,$3,$4)");
  if (!s) return std::move(s).error();
  return s->bind(h.size).bind_blob(as_bytes(h.root)).bind_blob(as_bytes(h.frontier)).bind(h.jws).run();
}

Result<Entry> read_entry(const Db& db, std::int64_t seq) {
  auto s = db.prepare("SELECT seq, kind, created_utc, payload FROM entry WHERE seq = $1");
  if (!s) return std::move(s).error();
  auto row = s->bind(seq).step();
  if (!row) return std::move(row).error();
  const auto where = "entry " + std::to_string(seq);
  if (!*row) return Error{ErrorCode::not_found, "the ledger has no such entry", where, ""};
  Entry e{s->integer(0), s->text(1), s->text(2), s->text(3), {}};
  auto content = sign::peek(e.payload);
  if (!content)
    return Error{ErrorCode::altered, "an entry of the ledger cannot be read", where,
                 "Run `handback ledger verify`."};
  e.content = std::move(*content);
  return e;
}

Result<Described> describe(const nlohmann::json& content) {
  const Error bad{ErrorCode::bad_format, "an entry is neither a job nor a run", "ledger",
                  "Run `handback ledger verify`."};
  if (!content.is_object()) return bad;
  const auto schema = content.value("schema", nlohmann::json());
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

Result<void> index_entry(const Db& db, std::int64_t seq, const Described& d) {
  auto s = db.prepare(
      "INSERT INTO derived_index(seq, kind, id, job_id, is_release, day, number) "
      "VALUES($1,$2,$3,$4,$5,$6,$7)");
  if (!s) return std::move(s).error();
  // "J-YYYYMMDD-NNNN"
  const bool numbered = d.kind == "job" && d.id.size() > 11;
  const std::string day = numbered ? d.id.substr(2, 8) : std::string();
  const auto number = numbered ? to_int(std::string_view(d.id).substr(11)).value_or(0) : 0;
  return s->bind(seq)
      .bind(d.kind)
      .bind(d.id)
      .bind(d.job_id)
      .bind(std::int64_t{d.release})
      .bind(day)
      .bind(std::int64_t{number})
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
}  // namespace

Result<void> ensure_index(const Db& db, bool writable, bool& counted) {
  const auto differs = index_differs(db, counted);
  if (!differs) return differs.error();
  if (!*differs) {
    counted = true;
    return {};
  }
  if (!writable)
    return Error{ErrorCode::altered, "the ledger's index does not match its entries", db.where(),
                 "Run `handback ledger verify`."};
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

Result<std::vector<std::int64_t>> run_seqs(const Db& db, std::string_view job_id, bool release_only) {
  auto s = db.prepare(
      "SELECT seq FROM derived_index WHERE job_id = $1 AND kind = 'run' AND is_release >= $2 ORDER BY seq");
  if (!s) return std::move(s).error();
  s->bind(job_id).bind(std::int64_t{release_only});
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

std::string head_content(std::int64_t size, ByteView root, std::string_view at_utc) {
  std::string s = R"({"at":")";
  s += at_utc;
  s += R"(","root":")" + hex(root) + R"(","schema":")";
  s += kHeadSchema;
  s += R"(","size":)" + std::to_string(size) + "}";
  return s;
}
}  // namespace hb::ledger::detail
