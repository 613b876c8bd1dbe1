#include "store.hpp"

#include "harness/base/text.hpp"

namespace hb::ledger::detail {
namespace {
constexpr const char* kTables = R"sql(
CREATE TABLE schema_version(version INTEGER NOT NULL);
INSERT INTO schema_version VALUES(1);
CREATE TABLE entry(
  seq INTEGER PRIMARY KEY,
  leaf_hash BLOB NOT NULL CHECK(length(leaf_hash) = 32),
  kind TEXT NOT NULL,
  created_utc TEXT NOT NULL,
  payload TEXT NOT NULL);
CREATE TABLE head(
  size INTEGER PRIMARY KEY REFERENCES entry(seq),
  root BLOB NOT NULL CHECK(length(root) = 32),
  frontier BLOB NOT NULL,
  jws TEXT NOT NULL);
CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER head_is_never_changed BEFORE UPDATE ON head BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER head_is_never_deleted BEFORE DELETE ON head BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TABLE derived_index(
  seq INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  id TEXT NOT NULL,
  job_id TEXT NOT NULL,
  is_release INTEGER NOT NULL,
  day TEXT NOT NULL,
  number INTEGER NOT NULL,
  UNIQUE(kind, id));
CREATE INDEX derived_by_job ON derived_index(job_id, seq);
CREATE INDEX derived_by_day ON derived_index(day, number);
)sql";

Result<std::int64_t> one_integer(const Db& db, std::string_view sql) {
  auto s = db.prepare(sql);
  if (!s) return std::move(s).error();
  auto row = s->step();
  if (!row) return std::move(row).error();
  return *row ? s->integer(0) : 0;
}

std::string text_of(const nlohmann::json& j, const char* object, const char* member) {
  const auto o = j.find(object);
  if (o == j.end() || !o->is_object()) return {};
  const auto m = o->find(member);
  return m != o->end() && m->is_string() ? m->get<std::string>() : std::string();
}
}  // namespace

Result<void> prepare_tables(const Db& db, bool writable) {
  constexpr auto kHasVersion = "SELECT count(*) FROM sqlite_master WHERE name = 'schema_version'";
  constexpr auto kHasAny = "SELECT count(*) FROM sqlite_master";
  auto has = one_integer(db, kHasVersion);
  if (!has) return std::move(has).error();
  const Error other{ErrorCode::bad_format, "this database is not a ledger", db.where(),
                    "Name the right file."};
  if (*has == 0) {
    if (!writable) return other;
    auto t = Transaction::begin(db, true);
    if (!t) return std::move(t).error();
    has = one_integer(db, kHasVersion);  // another process may have been first
    if (!has) return std::move(has).error();
    if (*has == 0) {
      const auto any = one_integer(db, kHasAny);
      if (!any) return any.error();
      if (*any != 0) return other;
      if (auto r = db.run(kTables); !r) return r;
    }
    if (auto r = t->commit(); !r) return r;
  }
  const auto version = one_integer(db, "SELECT version FROM schema_version");
  if (!version) return version.error();
  if (*version != kSchemaVersion)
    return Error{ErrorCode::bad_format, "the ledger was made by another version of this program", db.where(),
                 "Use that version, or a newer one."};
  return {};
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
  auto s = db.prepare("SELECT size, root, frontier, jws FROM head WHERE size = ?");
  if (s) s->bind(size);
  return one_head(std::move(s));
}

Result<void> each_head(const Db& db, const std::function<void(std::string jws)>& visit) {
  auto s = db.prepare("SELECT jws FROM head ORDER BY size");
  if (!s) return std::move(s).error();
  for (;;) {
    auto row = s->step();
    if (!row) return std::move(row).error();
    if (!*row) return {};
    visit(s->text(0));
  }
}

Result<std::int64_t> last_seq(const Db& db) { return one_integer(db, "SELECT max(seq) FROM entry"); }

Result<void> insert_entry(const Db& db, const Entry& e, const Digest& leaf) {
  auto s = db.prepare("INSERT INTO entry(seq, leaf_hash, kind, created_utc, payload) VALUES(?,?,?,?,?)");
  if (!s) return std::move(s).error();
  return s->bind(e.seq).bind_blob(leaf).bind(e.kind).bind(e.created_utc).bind(e.payload).run();
}

Result<void> insert_head(const Db& db, const HeadRow& h) {
  auto s = db.prepare("INSERT INTO head(size, root, frontier, jws) VALUES(?,?,?,?)");
  if (!s) return std::move(s).error();
  return s->bind(h.size).bind_blob(as_bytes(h.root)).bind_blob(as_bytes(h.frontier)).bind(h.jws).run();
}

Result<Entry> read_entry(const Db& db, std::int64_t seq) {
  auto s = db.prepare("SELECT seq, kind, created_utc, payload FROM entry WHERE seq = ?");
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
      "INSERT INTO derived_index(seq, kind, id, job_id, is_release, day, number) VALUES(?,?,?,?,?,?,?)");
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

Result<void> ensure_index(const Db& db, bool writable) {
  constexpr auto kDiffers =
      "SELECT (SELECT ifnull(max(seq),0) FROM entry) <> (SELECT ifnull(max(seq),0) FROM derived_index)"
      " OR (SELECT count(*) FROM entry) <> (SELECT count(*) FROM derived_index)";
  const auto differs = one_integer(db, kDiffers);
  if (!differs) return differs.error();
  if (*differs == 0) return {};
  if (!writable)
    return Error{ErrorCode::altered, "the ledger's index does not match its entries", db.where(),
                 "Run `handback ledger verify`."};
  const bool inside = db.in_transaction();
  std::optional<Transaction> own;
  if (!inside) {
    auto t = Transaction::begin(db, true);
    if (!t) return std::move(t).error();
    own.emplace(std::move(*t));
  }
  if (auto r = db.run("DELETE FROM derived_index"); !r) return r;
  auto s = db.prepare("SELECT seq, payload FROM entry ORDER BY seq");
  if (!s) return std::move(s).error();
  for (;;) {
    auto row = s->step();
    if (!row) return std::move(row).error();
    if (!*row) break;
    const auto content = sign::peek(s->text(1));
    if (!content) return content.error();
    const auto d = describe(*content);
    if (!d) return d.error();
    if (auto r = index_entry(db, s->integer(0), *d); !r) return r;
  }
  return own ? own->commit() : Result<void>();
}

Result<std::int64_t> find_seq(const Db& db, std::string_view kind, std::string_view id) {
  auto s = db.prepare("SELECT seq FROM derived_index WHERE kind = ? AND id = ?");
  if (!s) return std::move(s).error();
  auto row = s->bind(kind).bind(id).step();
  if (!row) return std::move(row).error();
  return *row ? s->integer(0) : 0;
}

Result<std::vector<std::int64_t>> run_seqs(const Db& db, std::string_view job_id, bool release_only) {
  auto s = db.prepare(
      "SELECT seq FROM derived_index WHERE job_id = ? AND kind = 'run' AND is_release >= ? ORDER BY seq");
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
  auto s = db.prepare("SELECT ifnull(max(number),0) FROM derived_index WHERE day = ?");
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
