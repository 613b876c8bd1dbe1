// A ledger leaves as one text and comes back whole, or not at all.
#include <gtest/gtest.h>

#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;
using nlohmann::json;

sign::SigningKey other_bench() { return sign::SigningKey::from_seed(Bytes(32, 4)).value(); }

/// Three pairs: entries 1 to 6.
json exported(const Site& dir) {
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time()).value();
  for (int i = 0; i < 3; ++i) EXPECT_TRUE(add_job_and_run(l, i));
  return l.export_json().value();
}

TEST(LedgerExchange, AnImportedLedgerIsTheSameAndGoesOnUnderTheNewKey) {
  const Site dir;
  const auto all = exported(dir);
  auto l = Ledger::open(dir / "new.db", other_bench(), fixed_time());
  ASSERT_TRUE(l);
  const auto n = l->import_json(json::parse(all.dump()), ledger_ring());
  ASSERT_TRUE(n) << n.error().message();
  EXPECT_EQ(*n, 6);
  EXPECT_EQ(l->export_json().value(), all);
  EXPECT_EQ(l->head()->jws, Ledger::read(dir / "l.db")->head()->jws);
  EXPECT_TRUE(l->find(run_number(2)));
  const auto job = l->open_job(job_fields());
  ASSERT_TRUE(job);
  auto run = run_of(*job, 7);
  run["bench"]["key_id"] = other_bench().key_id();
  const auto signed_run = l->sign_record(run);
  ASSERT_TRUE(signed_run) << signed_run.error().message();
  ASSERT_TRUE(l->append_run(*signed_run));
  auto both = ledger_ring();
  both.add(other_bench().public_key());
  const auto a = l->verify(both, all["heads"].back().get<std::string>());
  ASSERT_TRUE(a);
  EXPECT_TRUE(a->sound()) << a->says;
  EXPECT_EQ(a->entries, 8);
  EXPECT_EQ(l->import_json(all, ledger_ring()).error().code, ErrorCode::refused) << "it has entries already";
  EXPECT_EQ(l->head()->size, 8);
}

TEST(LedgerExchange, TheFirstDoubtfulEntryIsNamedAndNothingIsKept) {
  const Site dir;
  const auto all = exported(dir);
  const auto leaf_of_3 = all["entries"][2]["leaf_hash"].get<std::string>();
  const struct {
    const char* situation;
    const char* patch;
    ErrorCode code;
    const char* names;
  } rows[] = {
      {"a payload from elsewhere",
       R"([{"op":"copy","from":"/entries/3/payload","path":"/entries/1/payload"}])", ErrorCode::altered,
       "entry 2"},
      {"with its hash", R"([{"op":"copy","from":"/entries/3/payload","path":"/entries/1/payload"},
                            {"op":"copy","from":"/entries/3/leaf_hash","path":"/entries/1/leaf_hash"}])",
       ErrorCode::altered, "entry 2"},
      {"a run before its job", R"([{"op":"copy","from":"/entries/3/payload","path":"/entries/0/payload"},
                                   {"op":"copy","from":"/entries/3/leaf_hash","path":"/entries/0/leaf_hash"}])",
       ErrorCode::altered, "entry 1"},
      {"one left out", R"([{"op":"remove","path":"/entries/2"},{"op":"remove","path":"/heads/2"}])",
       ErrorCode::bad_format, "entry 3"},
      {"its date changed",
       R"([{"op":"replace","path":"/entries/4/created_utc","value":"2026-01-01T00:00:00Z"}])",
       ErrorCode::altered, "entry 5"},
      {"its kind changed", R"([{"op":"replace","path":"/entries/4/kind","value":"run"}])", ErrorCode::altered,
       "entry 5"},
      {"a head from elsewhere",
       R"([{"op":"copy","from":"/heads/4","path":"/heads/3"},{"op":"remove","path":"/heads/4"}])",
       ErrorCode::altered, "entry 4"},
      {"no payload", R"([{"op":"remove","path":"/entries/5/payload"}])", ErrorCode::bad_format, "entry 6"},
      {"a payload that is no signature", R"([{"op":"replace","path":"/entries/5/payload","value":"x"}])",
       ErrorCode::altered, "entry 6"},
      {"fewer heads", R"([{"op":"remove","path":"/heads/5"}])", ErrorCode::bad_format, "/heads"},
      {"another schema", R"([{"op":"replace","path":"/schema","value":"x"}])", ErrorCode::bad_format,
       "/schema"},
  };
  auto l = Ledger::open(dir / "new.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  for (const auto& r : rows) {
    const auto n = l->import_json(all.patch(json::parse(r.patch)), ledger_ring());
    ASSERT_FALSE(n) << r.situation;
    EXPECT_EQ(name(n.error().code), name(r.code)) << r.situation << ": " << n.error().message();
    EXPECT_NE(n.error().where.find(r.names), std::string::npos) << r.situation << ": " << n.error().message();
    EXPECT_EQ(l->head()->size, 0) << r.situation;
  }
  const auto unknown = l->import_json(all, sign::KeyRing());
  ASSERT_FALSE(unknown);
  EXPECT_EQ(unknown.error().code, ErrorCode::unknown_key);
  EXPECT_EQ(unknown.error().where, "entry 1");
  EXPECT_TRUE(l->import_json(all, ledger_ring())) << "after all that it is still empty";
}

}  // namespace
}  // namespace hb::ledger
