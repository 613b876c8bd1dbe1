// Somebody with a database shell: what they do must show, with the first bad entry named.
#include <gtest/gtest.h>

#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;

/// Five jobs and five runs: entries 1 to 10.
void make_ledger(const std::string& file) {
  auto l = Ledger::open(file, ledger_key(), fixed_time());
  ASSERT_TRUE(l) << l.error().message();
  for (int i = 0; i < 5; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
}
Audit audit(const std::string& file, std::string_view earlier_head = {}) {
  auto l = Ledger::read(file);
  if (!l) return {Flaw::bad_head, -1, -1, l.error().message()};
  auto a = l->verify(ledger_ring(), earlier_head);
  return a ? *a : Audit{Flaw::bad_head, -1, -1, a.error().message()};
}

TEST(LedgerTamper, TheDatabaseItselfRefusesToChangeThePast) {
  const Site dir;
  make_ledger(dir / "l.db");
  EXPECT_EQ(dir.change("l.db", "UPDATE entry SET payload = 'x' WHERE seq = 3"), Site::kRefused);
  EXPECT_EQ(dir.change("l.db", "DELETE FROM entry WHERE seq = 10"), Site::kRefused);
  EXPECT_EQ(dir.change("l.db", "UPDATE head SET jws = 'x' WHERE size = 3"), Site::kRefused);
  EXPECT_EQ(dir.change("l.db", "DELETE FROM head"), Site::kRefused);
  const auto a = audit(dir / "l.db");
  EXPECT_TRUE(a.sound()) << a.says;
  EXPECT_EQ(a.entries, 10);
}

/// A payload with entry 4's signature but another outcome in its content.
std::string forged_payload(const std::string& file) {
  const auto entry = Ledger::read(file)->find(run_number(1)).value();
  const std::string jws(entry.jws());
  auto content = sign::peek(jws).value();
  content["outcome"] = "fail";
  const auto body = base64url(as_bytes(record::canonical(content).value()));
  const auto first = jws.find('.'), last = jws.rfind('.');
  return jws.substr(0, first + 1) + body + jws.substr(last);
}

TEST(LedgerTamper, TheFirstBadEntryIsNamed) {
  const Site dir;
  make_ledger(dir / "whole.db");
  const auto forged = forged_payload(dir / "whole.db");
  const auto forged_leaf = hex(leaf_hash(as_bytes(forged)));
  const auto other_head = [&] {  // a head that this key really signed, of another ledger
    auto l = Ledger::open(dir / "other.db", ledger_key(), fixed_time()).value();
    for (int i = 0; i < 5; ++i) EXPECT_TRUE(add_job_and_run(l, 100 + i));
    return l.head().value();
  }();
  const auto zeros = dir.blob(std::string(64, '0'));
  const std::string swap =
      "UPDATE entry SET seq = -3 WHERE seq = 3; UPDATE entry SET seq = 3 WHERE seq = 5;"
      "UPDATE entry SET seq = 5 WHERE seq = -3";
  const struct {
    const char* situation;
    std::string sql;
    Flaw flaw;
    std::int64_t first_bad;
  } rows[] = {
      {"payload rewritten", "UPDATE entry SET payload = '" + forged + "' WHERE seq = 4", Flaw::rewritten, 4},
      {"payload and its hash rewritten",
       "UPDATE entry SET payload = '" + forged + "', leaf_hash = " + dir.blob(forged_leaf) + " WHERE seq = 4",
       Flaw::rewritten, 4},
      {"hash alone", "UPDATE entry SET leaf_hash = " + zeros + " WHERE seq = 7", Flaw::rewritten, 7},
      {"kind changed", "UPDATE entry SET kind = 'job' WHERE seq = 2", Flaw::rewritten, 2},
      {"date changed", "UPDATE entry SET created_utc = '2026-01-01T00:00:00Z' WHERE seq = 1", Flaw::rewritten,
       1},
      {"one cut out", "DELETE FROM entry WHERE seq = 6", Flaw::missing, 6},
      {"the first cut out", "DELETE FROM entry WHERE seq = 1", Flaw::missing, 1},
      {"one cut out and the rest moved up",
       "DELETE FROM entry WHERE seq = 6; UPDATE entry SET seq = seq - 1 WHERE seq = 7;"
       "UPDATE entry SET seq = seq - 1 WHERE seq = 8; UPDATE entry SET seq = seq - 1 WHERE seq = 9;"
       "UPDATE entry SET seq = seq - 1 WHERE seq = 10",
       Flaw::rewritten, 6},
      {"two swapped", swap, Flaw::reordered, 3},
      {"end cut off", "DELETE FROM entry WHERE seq > 8", Flaw::truncated, 9},
      {"everything gone", "DELETE FROM entry", Flaw::truncated, 1},
      {"head cut off", "DELETE FROM head WHERE size = 10", Flaw::bad_head, 10},
      {"head cut out", "DELETE FROM head WHERE size = 4", Flaw::bad_head, 4},
      {"head's root rewritten", "UPDATE head SET root = " + zeros + " WHERE size = 5", Flaw::bad_head, 5},
      {"head's signature rewritten",
       "UPDATE head SET jws = substr(jws, 1, length(jws) - 40) || 'AAAA' || substr(jws, length(jws) - 35) "
       "WHERE size = 5",
       Flaw::bad_head, 5},
      {"a head of another ledger",
       "UPDATE head SET jws = '" + other_head.jws + "', root = " + dir.blob(hex(other_head.root)) +
           " WHERE size = 10",
       Flaw::rewritten, 10},
  };
  for (const auto& r : rows) {
    dir.copy("whole.db", "l.db");
    ASSERT_EQ(dir.change("l.db", dir.without_triggers() + r.sql), "") << r.situation;
    const auto a = audit(dir / "l.db");
    EXPECT_EQ(name(a.flaw).view(), name(r.flaw).view()) << r.situation << ": " << a.says;
    EXPECT_EQ(a.first_bad, r.first_bad) << r.situation << ": " << a.says;
  }
}

TEST(LedgerTamper, AnEarlierHeadShowsAnOlderCopyOfTheFile) {
  const Site dir;
  make_ledger(dir / "l.db");
  dir.copy("l.db", "older.db");
  std::string kept;
  {
    auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    ASSERT_TRUE(l);
    ASSERT_TRUE(add_job_and_run(*l, 5));
    kept = l->head()->jws;
    ASSERT_TRUE(add_job_and_run(*l, 6));
  }
  EXPECT_TRUE(audit(dir / "l.db", kept).sound());
  EXPECT_TRUE(audit(dir / "older.db").sound());  // by itself it is a whole ledger
  const auto a = audit(dir / "older.db", kept);
  EXPECT_EQ(a.flaw, Flaw::truncated);
  EXPECT_EQ(a.first_bad, 11);
  {  // and grown on to another history
    auto l = Ledger::open(dir / "older.db", ledger_key(), fixed_time());
    ASSERT_TRUE(l);
    for (int i = 20; i < 23; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
  }
  EXPECT_EQ(audit(dir / "older.db", kept).flaw, Flaw::rewritten);
}

TEST(LedgerTamper, NothingIsAppendedToATipThatDoesNotFit) {
  const Site dir;
  make_ledger(dir / "whole.db");
  for (const std::string& sql :
       {std::string("DELETE FROM head WHERE size = 10"), std::string("DELETE FROM entry WHERE seq = 10"),
        "UPDATE head SET root = " + dir.blob(std::string(64, '0')) + " WHERE size = 10"}) {
    dir.copy("whole.db", "l.db");
    ASSERT_EQ(dir.change("l.db", dir.without_triggers() + sql), "") << sql;
    auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(l->open_job(job_fields()).error().code, ErrorCode::altered) << sql;
  }
}

TEST(LedgerTamper, TheIndexIsRebuiltFromTheEntries) {
  const Site dir;
  make_ledger(dir / "l.db");
  ASSERT_EQ(dir.change("l.db", "DELETE FROM derived_index"), "");
  EXPECT_TRUE(Ledger::read(dir / "l.db")->find(run_number(3))) << "the entries themselves are looked through";
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  EXPECT_TRUE(l->find(run_number(3)));
  EXPECT_EQ(l->open_job(job_fields())->id, "J-20261125-0006");
  // An index that lies hides nothing and shows nothing that is not so.
  ASSERT_EQ(dir.change("l.db",
                       "UPDATE derived_index SET id = 'x' WHERE seq = 2;"
                       "UPDATE derived_index SET id = '" +
                           run_number(0) + "' WHERE seq = 4"),
            "");
  EXPECT_EQ(l->find(run_number(0))->seq, 2);
  EXPECT_EQ(l->find(run_number(1))->seq, 4);
}

}  // namespace
}  // namespace hb::ledger
