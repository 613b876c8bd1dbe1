// A ledger of the first layout: read as it is, brought up to date when it is written, and a newer one
// refused.
#include <gtest/gtest.h>
#include <sqlite3.h>

#include <fstream>

#include "tests/reports/ledger/child.hpp"
#include "tests/reports/ledger/faulty_vfs.hpp"
#include "tests/reports/ledger/history.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;
namespace fs = std::filesystem;

/// Layout 1 as it was released. It never changes.
constexpr const char* kLayout1 = R"sql(
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

void raw(const fs::path& file, const std::string& sql) {
  sqlite3* db = nullptr;
  ASSERT_EQ(sqlite3_open(file.c_str(), &db), SQLITE_OK);
  char* why = nullptr;
  EXPECT_EQ(sqlite3_exec(db, sql.c_str(), nullptr, nullptr, &why), SQLITE_OK) << (why == nullptr ? "" : why);
  sqlite3_free(why);
  sqlite3_close(db);
}

int number(const fs::path& file, const char* sql) {
  sqlite3* db = nullptr;
  sqlite3_stmt* s = nullptr;
  int n = -1;
  if (sqlite3_open(file.c_str(), &db) == SQLITE_OK &&
      sqlite3_prepare_v2(db, sql, -1, &s, nullptr) == SQLITE_OK && sqlite3_step(s) == SQLITE_ROW)
    n = sqlite3_column_int(s, 0);
  sqlite3_finalize(s);
  sqlite3_close(db);
  return n;
}
int version(const fs::path& file) { return number(file, "SELECT version FROM schema_version"); }

std::string bytes(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

/// 22 entries: jobs and runs with their texts in the open, as they were signed then, in tables of layout 1.
struct LedgerLayout : testing::Test {
  TempFolder dir;
  fs::path old;
  void SetUp() override {
    {
      auto l = Ledger::open(dir / "today.db", ledger_key(), fixed_time());
      ASSERT_TRUE(l);
      ASSERT_TRUE(l->import_json(old_export(11), ledger_ring()));
    }
    old = dir / "old.db";
    raw(old, "PRAGMA journal_mode = WAL;" + std::string(kLayout1) + "ATTACH '" + (dir / "today.db").string() +
                 "' AS today; INSERT INTO entry SELECT * FROM today.entry;"
                 "INSERT INTO head SELECT * FROM today.head;"
                 "INSERT INTO derived_index SELECT * FROM today.derived_index");
  }
};

TEST_F(LedgerLayout, AnOlderOneIsReadAsItIs) {
  const auto before = bytes(old);
  {
    auto l = Ledger::read(old);
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_TRUE(l->verify(ledger_ring())->sound());
    EXPECT_TRUE(l->find(run_number(10)));
    for (std::int64_t seq = 1; seq <= 22; ++seq) EXPECT_TRUE(l->inclusion(seq)) << seq;
    EXPECT_TRUE(l->consistency(13));
  }
  EXPECT_EQ(version(old), 1);
  EXPECT_EQ(bytes(old), before);
}

TEST_F(LedgerLayout, AnOlderOneIsBroughtUpToDateAndIsTheSame) {
  const auto exported = Ledger::read(old)->export_json().value();
  auto l = Ledger::open(old, ledger_key(), fixed_time());
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_EQ(version(old), 3);
  EXPECT_EQ(l->export_json().value(), exported);
  EXPECT_EQ(number(old, "SELECT count(*) FROM node"), 11 + 5 + 2 + 1);
  for (int i = 11; i < 14; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
  EXPECT_EQ(number(old, "SELECT count(*) FROM node"), 14 + 7 + 3 + 1) << "appending keeps them";
  // The kept nodes are those of the leaves: with a leaf out of reach the others' proofs stand all the same.
  raw(old, "DROP TRIGGER entry_is_never_deleted; PRAGMA foreign_keys = OFF; DELETE FROM entry WHERE seq = 1");
  for (std::int64_t seq = 3; seq <= 28; ++seq) EXPECT_TRUE(l->inclusion(seq)) << seq;
  EXPECT_FALSE(l->inclusion(2)) << "its neighbour is gone";
}

TEST_F(LedgerLayout, NodesThatLieAreNotBelieved) {
  { ASSERT_TRUE(Ledger::open(old, ledger_key(), fixed_time())); }
  const auto good = Ledger::read(old)->inclusion(5).value().path;
  for (const char* sql : {"UPDATE node SET hash = zeroblob(32)", "DELETE FROM node"}) {
    raw(old, sql);
    auto l = Ledger::read(old);
    EXPECT_EQ(l->inclusion(5).value().path, good) << sql;
    EXPECT_TRUE(l->consistency(13)) << sql;
  }
}

TEST_F(LedgerLayout, APowerCutLeavesOneLayoutOrTheOther) {
  std::int64_t operations = 0;
  {
    fs::copy_file(old, dir / "trial.db");
    const FaultyDisk disk(Plan{});
    auto options = fixed_time();
    options.vfs = disk.name();
    { ASSERT_TRUE(Ledger::open(dir / "trial.db", ledger_key(), options)); }
    operations = disk.operations();
  }
  ASSERT_GT(operations, 10);
  int seen[4] = {};
  for (std::int64_t at = 1; at <= operations; ++at) {
    const auto file = dir / "trial.db";
    for (const char* end : {"", "-wal", "-shm"}) fs::remove(file.string() + end);
    fs::copy_file(old, file);
    {
      FaultyDisk disk({Fault::power_cut, at, static_cast<std::uint32_t>(at)});
      auto options = fixed_time();
      options.vfs = disk.name();
      { const auto l = Ledger::open(file, ledger_key(), options); }
      disk.settle();
    }
    const int v = version(file);
    ASSERT_TRUE(v == 1 || v == 3) << "operation " << at;
    ++seen[v];
    EXPECT_TRUE(Ledger::read(file)->verify(ledger_ring())->sound()) << "operation " << at;
    auto l = Ledger::open(file, ledger_key(), fixed_time());
    ASSERT_TRUE(l) << "operation " << at << ": " << l.error().message();
    EXPECT_EQ(number(file, "SELECT count(*) FROM node"), 19) << "operation " << at;
  }
  EXPECT_GT(seen[1], 0);
  EXPECT_GT(seen[3], 0);
}

TEST_F(LedgerLayout, SeveralProgramsMayFindTheOlderOneAtOnce) {
  std::vector<std::unique_ptr<Child>> openers;
  for (int i = 0; i < 5; ++i)
    openers.push_back(std::make_unique<Child>([&, i](int to) {
      auto l = Ledger::open(old, ledger_key(), fixed_time());
      say(to, l && add_job_and_run(*l, 100 + i) ? 'a' : '!');
    }));
  for (auto& o : openers) EXPECT_EQ(o->rest(), "a");
  for (auto& o : openers) o->wait();
  EXPECT_EQ(Ledger::read(old)->verify(ledger_ring())->entries, 32);
  EXPECT_EQ(number(old, "SELECT count(*) FROM node"), 16 + 8 + 4 + 2 + 1);
}

TEST_F(LedgerLayout, ANewerOneIsRefused) {
  raw(old, "UPDATE schema_version SET version = 4");
  const auto before = bytes(old);
  for (const bool writing : {false, true}) {
    const auto l = writing ? Ledger::open(old, ledger_key(), fixed_time()) : Ledger::read(old);
    ASSERT_FALSE(l);
    EXPECT_EQ(l.error().code, ErrorCode::bad_format);
    EXPECT_NE(l.error().what.find("newer version of this program (layout 4"), std::string::npos)
        << l.error().message();
  }
  EXPECT_EQ(bytes(old), before);
}

}  // namespace
}  // namespace hb::ledger
