// Proofs that leave the ledger, and what somebody could do to them on the way.
#include "reports/ledger/proof.hpp"

#include <gtest/gtest.h>

#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;
using nlohmann::json;

struct LedgerProof : testing::Test {
  Site dir;
  std::optional<Ledger> l;
  json inclusion, consistency;
  std::string record;

  /// Five pairs; the proofs are of entry 4 among 10, and of the way from 6 entries to 10.
  void SetUp() override {
    auto opened = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    ASSERT_TRUE(opened);
    l.emplace(std::move(*opened));
    for (int i = 0; i < 5; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
    const auto entry = l->find(run_number(1)).value();
    record = entry.payload;
    inclusion = proof_json(l->inclusion(entry.seq).value(), record);
    consistency = proof_json(l->consistency(6).value());
  }
  static ProofAnswer check(const json& proof, const Kept& kept = {}) {
    const auto a = check_proof(proof.dump(), ledger_ring(), kept);
    if (a) return *a;
    ProofAnswer wrong;
    wrong.kind = "error", wrong.says = a.error().message();
    return wrong;
  }
};

TEST_F(LedgerProof, HoldsWithThePublicKeyAlone) {
  const auto in = check(inclusion, {record, l->head()->jws});
  EXPECT_TRUE(in.holds) << in.says;
  EXPECT_EQ(in.seq, 4);
  EXPECT_EQ(in.size, 10);
  EXPECT_EQ(in.at_utc, "2026-11-25T08:00:00Z");
  EXPECT_EQ(in.content["run"]["id"], run_number(1));
  const auto co = check(consistency, {"", l->head(6)->jws});
  EXPECT_TRUE(co.holds) << co.says;
  EXPECT_EQ(co.old_size, 6);
  EXPECT_EQ(co.size, 10);
  for (std::int64_t m = 1; m <= 10; ++m) {
    const auto p = check(proof_json(l->consistency(m).value()));
    EXPECT_TRUE(p.holds) << m << ": " << p.says;
  }
  EXPECT_EQ(l->consistency(0).error().code, ErrorCode::not_found);
  EXPECT_EQ(l->consistency(11).error().code, ErrorCode::not_found);
}

TEST_F(LedgerProof, DoesNotHoldWhenAnythingIsChanged) {
  const auto other = [&] {  // the same key, another ledger
    auto o = Ledger::open(dir / "other.db", ledger_key(), fixed_time()).value();
    for (int i = 0; i < 5; ++i) EXPECT_TRUE(add_job_and_run(o, 100 + i));
    return o.head()->jws;
  }();
  const auto stranger = sign::make_jws(sign::verify_jws(l->head()->jws, ledger_ring())->payload,
                                       sign::SigningKey::from_seed(Bytes(32, 3)).value());
  const struct {
    const char* situation;
    const json& proof;
    const char* patch;
    std::string says;
  } rows[] = {
      {"another place", inclusion, R"([{"op":"replace","path":"/seq","value":5}])", "path does not lead"},
      {"place nought", inclusion, R"([{"op":"replace","path":"/seq","value":0}])", "path does not lead"},
      {"place below nought", inclusion, R"([{"op":"replace","path":"/seq","value":-4}])",
       "path does not lead"},
      {"a hash left out", inclusion, R"([{"op":"remove","path":"/path/0"}])", "path does not lead"},
      {"a hash twice", inclusion, R"([{"op":"copy","from":"/path/0","path":"/path/1"}])",
       "path does not lead"},
      {"no path", inclusion, R"([{"op":"replace","path":"/path","value":[]}])", "path does not lead"},
      {"the head as entry", inclusion, R"([{"op":"copy","from":"/head","path":"/entry"}])",
       "none of the kinds"},
      {"the entry as head", inclusion, R"([{"op":"copy","from":"/entry","path":"/head"}])", "the head: "},
      {"another ledger's head", inclusion,
       R"([{"op":"replace","path":"/head","value":")"
       "OTHER"
       R"("}])",
       "path does not lead"},
      {"a stranger's head", inclusion, R"([{"op":"replace","path":"/head","value":"STRANGER"}])", "the head"},
      {"another ledger's old head", consistency, R"([{"op":"replace","path":"/old_head","value":"OTHER"}])",
       "path does not lead"},
      {"heads the wrong way round", consistency,
       R"([{"op":"move","from":"/head","path":"/x"},{"op":"move","from":"/old_head","path":"/head"},
           {"op":"move","from":"/x","path":"/old_head"}])",
       "path does not lead"},
      {"a hash left out of the way", consistency, R"([{"op":"remove","path":"/path/1"}])",
       "path does not lead"},
  };
  for (const auto& r : rows) {
    std::string patch = r.patch;
    for (const auto& [word, with] :
         {std::pair<std::string, std::string>{"OTHER", other}, {"STRANGER", stranger}})
      if (const auto at = patch.find(word); at != std::string::npos) patch.replace(at, word.size(), with);
    const auto a = check(r.proof.patch(json::parse(patch)));
    EXPECT_FALSE(a.holds) << r.situation;
    EXPECT_NE(a.says.find(r.says), std::string::npos) << r.situation << ": " << a.says;
    EXPECT_TRUE(a.content.is_null()) << r.situation;
  }
}

TEST_F(LedgerProof, IsHeldAgainstWhatTheAskerKept) {
  EXPECT_FALSE(check(inclusion, {l->find(run_number(2))->payload, ""}).holds);
  EXPECT_FALSE(check(inclusion, {"", l->head(9)->jws}).holds);
  EXPECT_FALSE(check(consistency, {"", l->head(5)->jws}).holds);
  EXPECT_FALSE(check(consistency, {"", "not a head"}).holds);
  sign::KeyRing revoked;
  revoked.add({ledger_key().public_key(), "", "2026-11-25T07:00:00Z", true});
  EXPECT_FALSE(check_proof(inclusion.dump(), revoked)->holds);
  revoked = {};
  revoked.add({ledger_key().public_key(), "", "2026-11-26T07:00:00Z", true});
  EXPECT_TRUE(check_proof(inclusion.dump(), revoked)->holds);
  EXPECT_FALSE(check_proof(inclusion.dump(), sign::KeyRing())->holds);
}

TEST_F(LedgerProof, AnythingElseIsNoProof) {
  for (const std::string& text :
       {std::string(), std::string("{}"), std::string("[]"), record, inclusion.dump() + "x",
        inclusion.patch(json::parse(R"([{"op":"replace","path":"/kind","value":"other"}])")).dump(),
        inclusion.patch(json::parse(R"([{"op":"replace","path":"/seq","value":"4"}])")).dump(),
        inclusion.patch(json::parse(R"([{"op":"replace","path":"/path/0","value":"00"}])")).dump(),
        inclusion.patch(json::parse(R"([{"op":"replace","path":"/path/0","value":7}])")).dump(),
        inclusion.patch(json::parse(R"([{"op":"remove","path":"/entry"}])")).dump()}) {
    const auto a = check_proof(text, ledger_ring());
    ASSERT_FALSE(a) << text;
    EXPECT_EQ(a.error().code, ErrorCode::bad_format) << text;
  }
}

}  // namespace
}  // namespace hb::ledger
