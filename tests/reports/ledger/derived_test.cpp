// Every column of every table, edited, deleted, inserted, swapped: `verify` names it. What follows from the
// signed entries is mended by `repair`, which changes nothing that was signed.
#include <gtest/gtest.h>

#include <optional>
#include <set>

#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;

/// Ten entries, 11 withdraws the run of entry 10, 12 erases its texts.
void make_ledger(const std::string& place) {
  auto l = Ledger::open(place, ledger_key(), fixed_time());
  ASSERT_TRUE(l) << l.error().message();
  for (int i = 0; i < 5; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
  ASSERT_TRUE(l->withdraw(run_number(4), "test-run"));
  ASSERT_TRUE(l->erase(run_number(4)));
}

enum class Ends {
  flaw,     ///< named; what was signed was touched
  mended,   ///< named, and mended by repair
  refused,  ///< the ledger is not opened, and says why
};

struct Edit {
  const char* table;
  const char* columns;  ///< that are changed; * of an edit of whole rows
  std::string sql;
  Ends ends;
};

std::vector<Edit> edits(const Site& dir) {
  const auto zeros = dir.blob(std::string(64, '0'));
  const std::string junk = "'x'";
  const auto swapped = [](const std::string& table, const std::string& key, const std::string& column) {
    return "CREATE TEMP TABLE two AS SELECT " + key + " AS k, " + column + " AS v FROM " + table + " WHERE " +
           key + " IN (2, 4); UPDATE " + table + " SET " + column + " = (SELECT v FROM two WHERE k = 6 - " +
           table + "." + key + ") WHERE " + key + " IN (2, 4); DROP TABLE two";
  };
  using enum Ends;
  return {
      {"entry", "seq", "UPDATE entry SET seq = 99 WHERE seq = 12", flaw},
      {"entry", "leaf_hash", "UPDATE entry SET leaf_hash = " + zeros + " WHERE seq = 3", flaw},
      {"entry", "kind", "UPDATE entry SET kind = 'run' WHERE seq = 3", flaw},
      {"entry", "created_utc", "UPDATE entry SET created_utc = '2026-01-01T00:00:00Z' WHERE seq = 3", flaw},
      {"entry", "payload", "UPDATE entry SET payload = " + junk + " WHERE seq = 3", flaw},
      {"entry", "*", "DELETE FROM entry WHERE seq = 3", flaw},
      {"entry", "*", "DELETE FROM entry WHERE seq = 12", flaw},
      {"entry", "*",
       "INSERT INTO entry(seq, leaf_hash, kind, created_utc, payload) SELECT 13, leaf_hash, kind, "
       "created_utc, "
       "payload FROM entry WHERE seq = 3",
       flaw},
      {"entry", "payload", swapped("entry", "seq", "payload"), flaw},
      {"entry", "leaf_hash", swapped("entry", "seq", "leaf_hash"), flaw},
      {"head", "size", "UPDATE head SET size = 99 WHERE size = 12", flaw},
      {"head", "root", "UPDATE head SET root = " + zeros + " WHERE size = 3", flaw},
      {"head", "jws", "UPDATE head SET jws = " + junk + " WHERE size = 3", flaw},
      {"head", "frontier", "UPDATE head SET frontier = " + zeros + " WHERE size = 3", mended},
      {"head", "frontier", "UPDATE head SET frontier = " + zeros + " WHERE size = 12", mended},
      {"head", "*", "DELETE FROM head WHERE size = 3", flaw},
      {"head", "*", "DELETE FROM head WHERE size = 12", flaw},
      {"head", "*",
       "INSERT INTO head(size, root, frontier, jws) SELECT 13, root, frontier, jws FROM head WHERE size = 3",
       flaw},
      {"head", "jws", swapped("head", "size", "jws"), flaw},
      {"head", "frontier", swapped("head", "size", "frontier"), mended},
      {"derived_index", "seq", "UPDATE derived_index SET seq = 99 WHERE seq = 3", mended},
      {"derived_index", "seq", "UPDATE derived_index SET seq = -1 WHERE seq = 3", mended},
      {"derived_index", "kind", "UPDATE derived_index SET kind = 'x' WHERE seq = 3", mended},
      {"derived_index", "id", "UPDATE derived_index SET id = 'x' WHERE seq = 4", mended},
      {"derived_index", "job_id", "UPDATE derived_index SET job_id = 'x' WHERE seq = 4", mended},
      {"derived_index", "is_release", "UPDATE derived_index SET is_release = 0 WHERE seq = 4", mended},
      {"derived_index", "day", "UPDATE derived_index SET day = '20200101' WHERE seq = 3", mended},
      {"derived_index", "number", "UPDATE derived_index SET number = 77 WHERE seq = 3", mended},
      {"derived_index", "*", "DELETE FROM derived_index WHERE seq = 3", mended},
      {"derived_index", "*", "DELETE FROM derived_index WHERE kind = 'withdrawal'", mended},
      {"derived_index", "*", "DELETE FROM derived_index", mended},
      {"derived_index", "*",
       "INSERT INTO derived_index(seq, kind, id, job_id, is_release, day, number) VALUES(13, 'run', 'x', "
       "'x', 1, "
       "'', 0)",
       mended},
      {"derived_index", "job_id", swapped("derived_index", "seq", "job_id"), mended},
      {"node", "level", "UPDATE node SET level = 9 WHERE level = 1 AND place = 1", mended},
      {"node", "place", "UPDATE node SET place = 99 WHERE level = 1 AND place = 1", mended},
      {"node", "hash", "UPDATE node SET hash = " + zeros + " WHERE level = 2 AND place = 1", mended},
      {"node", "*", "DELETE FROM node WHERE level = 1 AND place = 0", mended},
      {"node", "*", "DELETE FROM node", mended},
      {"node", "*", "INSERT INTO node(level, place, hash) VALUES(1, 6, " + zeros + ")", mended},
      {"node", "*", "INSERT INTO node(level, place, hash) VALUES(9, 0, " + zeros + ")", mended},
      {"node", "hash",
       "CREATE TEMP TABLE two AS SELECT place AS k, hash AS v FROM node WHERE level = 1 AND place IN (2, 4); "
       "UPDATE "
       "node SET hash = (SELECT v FROM two WHERE k = 6 - node.place) WHERE level = 1 AND place IN (2, 4); "
       "DROP TABLE "
       "two",
       mended},
      {"disclosure", "seq", "UPDATE disclosure SET seq = 99 WHERE seq = 3", flaw},
      {"disclosure", "disclosures", "UPDATE disclosure SET disclosures = 'eA~' WHERE seq = 3", flaw},
      {"disclosure", "disclosures", swapped("disclosure", "seq", "disclosures"), flaw},
      {"disclosure", "*", "DELETE FROM disclosure WHERE seq = 3", flaw},
      {"disclosure", "*", "INSERT INTO disclosure(seq, disclosures) VALUES(99, 'eA~')", mended},
      {"disclosure", "*", "INSERT INTO disclosure(seq, disclosures) VALUES(11, 'eA~')", flaw},
      {"schema_version", "version", "UPDATE schema_version SET version = 2", mended},
      {"schema_version", "version", "UPDATE schema_version SET version = 0", mended},
      {"schema_version", "version", "UPDATE schema_version SET version = 99", refused},
      {"schema_version", "*", "DELETE FROM schema_version", mended},
      {"schema_version", "*", "INSERT INTO schema_version VALUES(1)", mended},
  };
}

TEST(LedgerTables, EveryColumnOfEveryTableIsOnTrial) {
  const Site dir;
  make_ledger(dir / "l.db");
  std::string tried;
  std::set<std::string> names;
  for (const auto& e : edits(dir))
    if (std::string(e.columns) != "*") names.insert(std::string(e.table) + "|" + e.columns);
  for (const auto& n : names) tried += n + "\n";
  EXPECT_EQ(dir.rows("l.db", dir.columns_sql()), tried);
}

TEST(LedgerTables, EveryEditIsNamedAndRepairMendsWhatFollowsFromTheEntries) {
  const Site dir;
  make_ledger(dir / "whole.db");
  const auto signed_columns = [&](const char* name) {
    return dir.rows(name, "SELECT seq, leaf_hash, kind, created_utc, payload FROM entry ORDER BY seq") +
           dir.rows(name, "SELECT size, root, jws FROM head ORDER BY size") +
           dir.rows(name, "SELECT seq, disclosures FROM disclosure WHERE seq < 90 ORDER BY seq");
  };
  const auto whole = signed_columns("whole.db");
  int named = 0, mended = 0;
  for (const auto& e : edits(dir)) {
    dir.copy("whole.db", "l.db");
    ASSERT_EQ(signed_columns("l.db"), whole);
    ASSERT_EQ(dir.change("l.db", dir.without_triggers() + e.sql), "") << e.sql;
    const auto before = signed_columns("l.db");
    std::optional<Result<Ledger>> reading(Ledger::read(dir / "l.db"));
    auto& reader = *reading;
    if (e.ends == Ends::refused) {
      ASSERT_FALSE(reader) << e.sql;
      ++named;
      continue;
    }
    ASSERT_TRUE(reader) << e.sql << ": " << reader.error().message();
    const auto a = reader->verify(ledger_ring());
    ASSERT_TRUE(a) << e.sql << ": " << a.error().message();
    EXPECT_FALSE(a->sound()) << e.sql;
    EXPECT_EQ(a->flaw == Flaw::derived, e.ends == Ends::mended) << e.sql << ": " << a->says;
    EXPECT_EQ(a->derived.empty(), e.ends != Ends::mended) << e.sql;
    named += a->sound() ? 0 : 1;
    reading.reset();
    auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    ASSERT_TRUE(l) << e.sql << ": " << l.error().message();
    const auto r = l->repair(ledger_ring());
    EXPECT_EQ(static_cast<bool>(r), e.ends == Ends::mended) << e.sql;
    EXPECT_EQ(signed_columns("l.db"), before) << "no signed byte is changed: " << e.sql;
    if (e.ends != Ends::mended) continue;
    const auto after = Ledger::read(dir / "l.db")->verify(ledger_ring());
    EXPECT_TRUE(after->sound()) << e.sql << ": " << after->says;
    mended += after->sound() ? 1 : 0;
  }
  RecordProperty("edits_named", named);
  RecordProperty("edits_mended", mended);
  std::printf("%d edits named, %d of them mended\n", named, mended);
}

// A frontier that does not fit stopped every append, and verify said that all was well.
TEST(LedgerTables, AnAppendMendsTheFrontierThatItRestsOn) {
  const Site dir;
  make_ledger(dir / "l.db");
  ASSERT_EQ(dir.change("l.db", dir.without_triggers() + "UPDATE head SET frontier = " +
                                   dir.blob(std::string(128, '0')) + " WHERE size = 12"),
            "");
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l->open_job(job_fields()));
  EXPECT_TRUE(l->verify(ledger_ring())->sound());
}

// Whether a sheet is superseded rested on an index row that anybody could edit.
TEST(LedgerTables, WhatSupersedesARunRestsOnNoDerivedRow) {
  const Site dir;
  std::string job_id;
  {
    auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    const auto job = l->open_job(job_fields()).value();
    job_id = job.id;
    for (const int n : {1, 2}) ASSERT_TRUE(l->append_run(l->sign_record(run_of(job, n)).value()));
  }
  const auto ring = ledger_ring();
  for (const char* sql : {"UPDATE derived_index SET is_release = 0", "UPDATE derived_index SET job_id = 'x'",
                          "UPDATE derived_index SET id = 'x' WHERE seq = 2", "DELETE FROM derived_index"}) {
    ASSERT_EQ(dir.change("l.db", sql), "");
    const auto l = Ledger::read(dir / "l.db");
    const auto later = l->superseded_by(run_number(1), &ring);
    ASSERT_TRUE(later) << sql << later.error().message();
    ASSERT_TRUE(later->has_value()) << sql;
    EXPECT_EQ((*later)->seq, 3) << sql;
    EXPECT_FALSE(l->superseded_by(run_number(2), &ring)->has_value()) << sql;
    EXPECT_EQ(l->superseded_by(run_number(1), std::make_unique<sign::KeyRing>().get()).error().code,
              ErrorCode::unknown_key);
  }
}

}  // namespace
}  // namespace hb::ledger
