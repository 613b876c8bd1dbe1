#include "postgres_db.hpp"

#include <libpq-fe.h>

#include <algorithm>
#include <array>
#include <vector>

#include "postgres_schema.hpp"

namespace hb::ledger::detail {
namespace {
struct Clear {
  void operator()(PGresult* r) const { PQclear(r); }
  void operator()(PGconn* c) const { PQfinish(c); }
  void operator()(PQconninfoOption* o) const { PQconninfoFree(o); }
};
using Answer = std::unique_ptr<PGresult, Clear>;

// pg_type.dat of the server's sources.
constexpr Oid kBytea = 17, kInt8 = 20, kText = 25;

bool went_well(const PGresult* r) {
  const auto s = PQresultStatus(r);
  return s == PGRES_TUPLES_OK || s == PGRES_COMMAND_OK;
}

/// By SQLSTATE: https://www.postgresql.org/docs/15/errcodes-appendix.html
Error to_error(const PGconn* c, const PGresult* r, const std::string& where) {
  const auto io = [&](const char* what, const char* next) { return Error{ErrorCode::io, what, where, next}; };
  const char* field = r == nullptr ? nullptr : PQresultErrorField(r, PG_DIAG_SQLSTATE);
  const std::string_view state = field == nullptr ? "" : field;
  const auto is_class = [&](const char* two) { return state.substr(0, 2) == two; };
  if (PQstatus(c) != CONNECTION_OK || is_class("08") || state.substr(0, 4) == "57P0")
    return io("the connection to the database was lost", "Check the server and the network, then try again.");
  if (state == "55P03" || state == "57014" || is_class("40"))
    return io("the ledger is in use by another program", "Wait until it has finished, then try again.");
  if (is_class("53"))
    return io("the database's disk is full, or it has no room: the entry was not kept",
              "Make room, then try again.");
  if (state == "42501" || state == "25006")
    return io("the ledger may not be written", "Use the database role that made the ledger.");
  if (is_class("23"))
    return {ErrorCode::refused, "the ledger is append-only and refused the change", where, ""};
  if (is_class("42"))
    return {ErrorCode::bad_format, "this database is not laid out as a ledger", where, "Name the right one."};
  return io("the database failed: the entry was not kept", "Look at the server's log, then try again.");
}

class PostgresStatement final : public Statement::Backend {
 public:
  PostgresStatement(PGconn* c, std::string_view sql, const std::string& where)
      : c_(c), sql_(sql), where_(where) {}
  void bind(std::int64_t v) override { add(std::to_string(v), kInt8, 0); }
  void bind(std::string_view v) override { add(std::string(v), kText, 0); }
  void bind_blob(ByteView v) override { add(std::string(as_text(v)), kBytea, 1); }
  Result<bool> step() override {
    if (!answer_) {
      std::vector<const char*> values;
      std::vector<int> lengths;
      for (const auto& v : values_) {
        values.push_back(v.c_str());
        lengths.push_back(static_cast<int>(v.size()));
      }
      answer_.reset(PQexecParams(c_, sql_.c_str(), static_cast<int>(values.size()), types_.data(),
                                 values.data(), lengths.data(), formats_.data(), 1));
      if (!went_well(answer_.get())) return to_error(c_, answer_.get(), where_);
    }
    return ++row_ < PQntuples(answer_.get());
  }
  /// Binary results are big-endian, as wide as their type.
  [[nodiscard]] std::int64_t integer(int column) const override {
    const auto bytes = text(column);
    std::uint64_t v = 0;
    for (const char b : bytes) v = v << 8 | static_cast<std::uint8_t>(b);
    if (bytes.size() == 4) return static_cast<std::int32_t>(static_cast<std::uint32_t>(v));
    return static_cast<std::int64_t>(v);
  }
  [[nodiscard]] std::string text(int column) const override {
    return {PQgetvalue(answer_.get(), row_, column),
            static_cast<std::size_t>(PQgetlength(answer_.get(), row_, column))};
  }

 private:
  void add(std::string value, Oid type, int format) {
    values_.push_back(std::move(value));
    types_.push_back(type);
    formats_.push_back(format);
  }
  PGconn* c_;
  std::string sql_;
  const std::string& where_;
  std::vector<std::string> values_;
  std::vector<Oid> types_;
  std::vector<int> formats_;
  Answer answer_;
  int row_ = -1;
};

/// Only words of the connection string that are no secret.
Result<std::string> describe_place(const std::string& place) {
  const std::unique_ptr<PQconninfoOption, Clear> options(PQconninfoParse(place.c_str(), nullptr));
  if (!options)
    return Error{ErrorCode::invalid_argument, "this is no connection string of PostgreSQL", "--ledger",
                 "Write it like postgresql://user@host/database, or host=... dbname=... user=..."};
  std::string out = "postgresql";
  for (const auto* o = options.get(); o->keyword != nullptr; ++o)
    for (const std::string_view shown : {"host", "hostaddr", "port", "dbname", "user", "service"})
      if (o->val != nullptr && shown == o->keyword) out += " " + std::string(shown) + "=" + o->val;
  return out;
}

class PostgresDb final : public Db {
 public:
  Result<void> open(const std::string& place, bool writable, const Options& options) {
    auto shown = describe_place(place);
    if (!shown) return std::move(shown).error();
    where_ = std::move(*shown);
    writable_ = writable;
    wait_ms_ = options.busy_timeout.count();
    const auto seconds = std::to_string(std::max<std::int64_t>(2, wait_ms_ / 1000));  // libpq's least
    const std::array keys{"dbname", "connect_timeout", "application_name", "client_encoding",
                          static_cast<const char*>(nullptr)};
    const std::array values{place.c_str(), seconds.c_str(), "handback", "UTF8",
                            static_cast<const char*>(nullptr)};
    c_.reset(PQconnectdbParams(keys.data(), values.data(), 1));
    if (PQstatus(c_.get()) != CONNECTION_OK)
      return Error{ErrorCode::io, "the database does not let this program in, or cannot be reached", where_,
                   "Check server, database, user and password (PGPASSFILE, ~/.pgpass or PGPASSWORD)."};
    PQsetNoticeProcessor(
        c_.get(), [](void*, const char*) {}, nullptr);
    if (auto r = session(); !r) return r;
    return writable ? check_that_it_syncs() : Result<void>();
  }
  [[nodiscard]] Result<void> run(const char* sql) const override {
    const Answer a(PQexec(c_.get(), sql));
    if (!went_well(a.get())) return to_error(c_.get(), a.get(), where_);
    return {};
  }
  [[nodiscard]] Result<Statement> prepare(std::string_view sql) const override {
    return Statement(std::make_unique<PostgresStatement>(c_.get(), sql, where_));
  }
  [[nodiscard]] bool in_transaction() const override {
    const auto s = PQtransactionStatus(c_.get());
    return s == PQTRANS_INTRANS || s == PQTRANS_INERROR || s == PQTRANS_ACTIVE;
  }
  /// A connection that broke while nobody used it is made again.
  [[nodiscard]] Result<void> begin(bool write) const override {
    auto r = begin_here(write);
    if (r || PQstatus(c_.get()) == CONNECTION_OK) return r;
    PQreset(c_.get());
    if (PQstatus(c_.get()) != CONNECTION_OK) return r;
    if (auto s = session(); !s) return s;
    return begin_here(write);
  }
  [[nodiscard]] Result<void> commit() const override {
    const Answer a(PQexec(c_.get(), "COMMIT"));
    if (PQstatus(c_.get()) != CONNECTION_OK)
      return Error{ErrorCode::io, "the connection was lost while the entry was being kept", where_,
                   "Look with `handback ledger list` whether it is there before you do it again."};
    if (!went_well(a.get())) return to_error(c_.get(), a.get(), where_);
    // A transaction in which something failed answers COMMIT with this, and no error.
    if (std::string_view(PQcmdStatus(a.get())) == "ROLLBACK")
      return Error{ErrorCode::io, "the database failed: the entry was not kept", where_, "Try again."};
    return {};
  }
  [[nodiscard]] Result<int> looks_like() const override {
    auto s = prepare(
        "SELECT count(*), count(*) FILTER (WHERE relname = 'schema_version') FROM pg_catalog.pg_class"
        " WHERE relkind = 'r' AND relnamespace = (SELECT oid FROM pg_catalog.pg_namespace"
        " WHERE nspname = current_schema())");
    if (!s) return std::move(s).error();
    if (auto row = s->step(); !row) return std::move(row).error();
    return s->integer(0) == 0 ? 0 : s->integer(1) == 0 ? 1 : 2;
  }
  [[nodiscard]] std::span<const SchemaStep> schema() const override { return kPostgresSchema; }
  [[nodiscard]] Result<bool> has_table(const char* name) const override {
    auto s = prepare(
        "SELECT count(*) FROM pg_catalog.pg_class WHERE relkind = 'r' AND relname = $1 AND relnamespace ="
        " (SELECT oid FROM pg_catalog.pg_namespace WHERE nspname = current_schema())");
    if (!s) return std::move(s).error();
    if (auto row = s->bind(std::string_view(name)).step(); !row) return std::move(row).error();
    return s->integer(0) != 0;
  }
  /// The server keeps deleted rows until it vacuums, and its log and its backups longer.
  [[nodiscard]] Result<std::string> scrub() const override {
    if (auto r = run("VACUUM disclosure"); !r) return r.error();
    return std::string(
        "the server's write-ahead log, its replicas and its backups are the server's matter: they lose the "
        "erased text when they are recycled");
  }

 private:
  /// An acknowledged append is on the server's disk, whatever the server's own setting is.
  [[nodiscard]] Result<void> session() const {
    const auto wait = "SET lock_timeout = " + std::to_string(std::max<std::int64_t>(1, wait_ms_));
    if (auto r = run(wait.c_str()); !r) return r;
    return run(writable_ ? "SET synchronous_commit = on" : "SET default_transaction_read_only = on");
  }
  [[nodiscard]] Result<void> check_that_it_syncs() const {
    auto s = prepare("SELECT current_setting('fsync')");
    if (!s) return std::move(s).error();
    if (auto row = s->step(); !row) return std::move(row).error();
    if (s->text(0) == "on") return {};
    return Error{ErrorCode::refused, "this server does not flush to its disk: a power cut would lose entries",
                 where_, "Set fsync = on in its configuration."};
  }
  /// One writer at a time, before anything is read: what the next entry rests on is then the last one.
  [[nodiscard]] Result<void> begin_here(bool write) const {
    if (!write) return run("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY");
    auto r = run("BEGIN ISOLATION LEVEL READ COMMITTED");
    if (r)
      r = run(layout() != 0 ? "LOCK TABLE entry IN SHARE ROW EXCLUSIVE MODE"
                            // There is no table yet that could be locked; the number is "handback" in ASCII.
                            : "SELECT pg_advisory_xact_lock(7521414230111773547)");
    if (!r && PQstatus(c_.get()) == CONNECTION_OK && in_transaction()) static_cast<void>(run("ROLLBACK"));
    return r;
  }

  std::unique_ptr<PGconn, Clear> c_;
  bool writable_ = false;
  std::int64_t wait_ms_ = 0;
};
}  // namespace

bool is_postgres(std::string_view place) {
  for (const std::string_view start :
       {"postgresql://", "postgres://", "host=", "hostaddr=", "dbname=", "user=", "port=", "service="})
    if (place.substr(0, start.size()) == start) return true;
  return false;
}

Result<std::unique_ptr<Db>> open_postgres(const std::string& place, bool writable, const Options& options) {
  auto db = std::make_unique<PostgresDb>();
  if (auto r = db->open(place, writable, options); !r) return std::move(r).error();
  return std::unique_ptr<Db>(std::move(db));
}
}  // namespace hb::ledger::detail
