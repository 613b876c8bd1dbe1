// What should not have been written is taken back by a later entry, and its typed texts can be taken out.
#include "reports/ledger/withdrawal.hpp"

#include <gtest/gtest.h>

#include "reports/ledger/proof.hpp"
#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;

constexpr const char *kJob1 = "J-20261125-0001", *kJob2 = "J-20261125-0002";

/// Two pairs, entries 1 to 4, and a second release run of the first job, entry 5.
struct LedgerWithdrawal : testing::Test {
  Site dir;
  std::optional<Ledger> l;
  void SetUp() override {
    auto opened = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    ASSERT_TRUE(opened) << opened.error().message();
    l.emplace(std::move(*opened));
    for (int i = 0; i < 2; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
    ASSERT_TRUE(l->append_run(l->sign_record(run_of(l->job(kJob1).value(), 2)).value()));
  }
  Audit audit() const { return l->verify(ledger_ring()).value(); }
};

TEST_F(LedgerWithdrawal, AWithdrawnRunCountsNoMore) {
  ASSERT_TRUE(l->superseded_by(run_number(0))->has_value());
  const auto w = l->withdraw(run_number(2), "wrong-phone");
  ASSERT_TRUE(w) << w.error().message();
  EXPECT_EQ(w->seq, 6);
  EXPECT_FALSE(l->superseded_by(run_number(0))->has_value()) << "a run that was taken back replaces nothing";
  EXPECT_EQ(l->runs(kJob1)->size(), 1U);
  EXPECT_EQ((*l->withdrawn(run_number(2), nullptr))->reason, "wrong-phone");
  EXPECT_FALSE(l->withdrawn(run_number(0))->has_value());
  EXPECT_FALSE(l->withdrawn("nobody's")->has_value());
  EXPECT_TRUE(l->find(run_number(2))) << "the entry itself stays";
  EXPECT_EQ(l->withdraw(run_number(2), "wrong-phone").error().code, ErrorCode::refused);
  EXPECT_EQ(l->withdraw(run_number(0), "because").error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(l->withdraw(run_number(9), "test-run").error().code, ErrorCode::not_found);
  const auto a = audit();
  EXPECT_TRUE(a.sound()) << a.says;
  ASSERT_EQ(a.notes.size(), 1U);
  EXPECT_NE(a.notes[0].find("withdrawn on 2026-11-25T08:00:00Z"), std::string::npos) << a.notes[0];
}

TEST_F(LedgerWithdrawal, AWithdrawnJobTakesItsRunsAlongAndNothingMoreIsAddedToIt) {
  const auto job = l->job(kJob1).value();
  ASSERT_TRUE(l->withdraw(kJob1, "personal-text"));
  EXPECT_EQ(l->jobs()->size(), 1U);
  EXPECT_EQ(l->job(kJob1).error().code, ErrorCode::refused);
  EXPECT_TRUE(l->withdrawn(run_number(0))->has_value());
  EXPECT_EQ(l->runs(kJob1)->size(), 0U);
  EXPECT_EQ(l->append_run(l->sign_record(run_of(job, 5)).value()).error().code, ErrorCode::refused);
  auto back = job_fields();
  back.comeback_of = kJob1;
  EXPECT_EQ(l->open_job(back).error().code, ErrorCode::refused);
  EXPECT_EQ(l->open_job(job_fields())->id, "J-20261125-0003") << "its number is not given again";
  EXPECT_TRUE(Ledger::read(dir / "l.db")->withdrawn(kJob1)->has_value());
}

TEST_F(LedgerWithdrawal, ErasedTextsAreGoneAndTheTreeVerifies) {
  const auto run = l->find(run_number(0)).value();
  const auto root_before = l->head()->root;
  EXPECT_EQ(l->erase(kJob1).error().code, ErrorCode::refused) << "it was not withdrawn";
  ASSERT_TRUE(l->withdraw(kJob1, "personal-text"));
  const auto e = l->erase(kJob1);
  ASSERT_TRUE(e) << e.error().message();
  EXPECT_EQ(e->entries, (std::vector<std::int64_t>{1, 2, 5}));
  EXPECT_EQ(e->runs, (std::vector<std::string>{run_number(0), run_number(2)}));
  const auto job = l->job_entry(kJob1).value();
  EXPECT_EQ(job.erased.size(), 4U);
  EXPECT_FALSE(job.content["job"].contains("fault"));
  EXPECT_EQ(l->find(run_number(0))->erased.size(), 4U);
  EXPECT_TRUE(l->find(run_number(1))->erased.empty()) << "the other job's texts stay";
  const auto a = audit();
  EXPECT_TRUE(a.sound()) << a.says;
  EXPECT_EQ(a.entries, 7);
  ASSERT_EQ(a.notes.size(), 2U);
  EXPECT_NE(
      a.notes[1].find("erased on 2026-11-25T08:00:00Z, by " + ledger_key().key_id() + ": entries 1, 2, 5"),
      std::string::npos)
      << a.notes[1];
  EXPECT_EQ(l->consistency(5)->old_head.root, root_before);
  // A proof holds with the customer's whole copy, and with what is left here.
  for (const auto& text : {run.payload, l->find(run_number(0))->payload}) {
    const auto p =
        check_proof(proof_json(l->inclusion(2).value(), text).dump(), ledger_ring(), {run.payload, ""});
    ASSERT_TRUE(p);
    EXPECT_TRUE(p->holds) << p->says;
  }
  EXPECT_EQ(l->append_run(run.payload)->seq, 2) << "the same run again puts no text back";
  EXPECT_EQ(l->find(run_number(0))->erased.size(), 4U);
  const auto again = l->erase(kJob1);
  ASSERT_TRUE(again) << again.error().message();
  EXPECT_TRUE(again->entries.empty());
  EXPECT_EQ(audit().entries, 7);
}

TEST_F(LedgerWithdrawal, TheDatabaseLetsATextGoOnlyWhenItsErasureIsSigned) {
  EXPECT_EQ(dir.change("l.db", "DELETE FROM disclosure WHERE seq = 2"), Site::kRefused);
  EXPECT_EQ(dir.change("l.db", "UPDATE disclosure SET disclosures = 'x' WHERE seq = 2"), Site::kRefused);
  ASSERT_TRUE(l->withdraw(kJob1, "personal-text"));
  EXPECT_EQ(dir.change("l.db", "DELETE FROM disclosure WHERE seq = 2"), Site::kRefused);
  ASSERT_TRUE(l->erase(kJob1));
  EXPECT_EQ(dir.change("l.db", "DELETE FROM disclosure WHERE seq = 4"), Site::kRefused) << "of the other job";
}

TEST_F(LedgerWithdrawal, ATextThatIsGoneWithoutAWordIsAFlaw) {
  ASSERT_TRUE(l->withdraw(run_number(1), "test-run"));
  ASSERT_EQ(dir.change("l.db", dir.without_triggers() + "DELETE FROM disclosure WHERE seq = 4"), "");
  const auto a = audit();
  EXPECT_EQ(a.flaw, Flaw::missing_text) << a.says;
  EXPECT_EQ(a.first_bad, 4);
  EXPECT_EQ(l->repair(ledger_ring()).error().code, ErrorCode::altered);
}

TEST_F(LedgerWithdrawal, AnErasedTextThatIsPutBackIsNamedAndTakenOutAgain) {
  const auto text = std::string(sign::disclosures_of(l->find(run_number(1))->payload));
  ASSERT_TRUE(l->withdraw(run_number(1), "test-run"));
  ASSERT_TRUE(l->erase(run_number(1)));
  ASSERT_EQ(dir.change("l.db", "INSERT INTO disclosure(seq, disclosures) VALUES(4, '" + text + "')"), "");
  const auto a = audit();
  EXPECT_EQ(a.flaw, Flaw::derived) << a.says;
  ASSERT_EQ(a.derived.size(), 1U);
  EXPECT_NE(a.derived[0].find("entry 4, erased on"), std::string::npos) << a.derived[0];
  ASSERT_TRUE(l->repair(ledger_ring()));
  EXPECT_TRUE(audit().sound());
  EXPECT_EQ(l->find(run_number(1))->erased.size(), 4U);
}

TEST_F(LedgerWithdrawal, AnErasedLedgerIsExportedAndImported) {
  ASSERT_TRUE(l->withdraw(kJob1, "personal-text"));
  ASSERT_TRUE(l->erase(kJob1));
  const auto all = l->export_json().value();
  EXPECT_FALSE(all["entries"][0].contains("disclosures"));
  EXPECT_TRUE(all["entries"][2].contains("disclosures"));
  auto other = Ledger::open(dir / "new.db", ledger_key(), fixed_time());
  const auto n = other->import_json(all, ledger_ring());
  ASSERT_TRUE(n) << n.error().message();
  EXPECT_EQ(other->export_json().value(), all);
  EXPECT_TRUE(other->withdrawn(kJob1)->has_value());
  // Without the entry that explains it, a missing text is no import.
  auto cut = all;
  cut["entries"].erase(6);
  cut["heads"].erase(6);
  auto third = Ledger::open(dir / "third.db", ledger_key(), fixed_time());
  EXPECT_EQ(third->import_json(cut, ledger_ring()).error().where, "entry 1");
}

TEST_F(LedgerWithdrawal, WhatWasSignedBeforeTextsLayApartIsWithdrawnButNotErased) {
  auto old = Ledger::open(dir / "old.db", ledger_key(), fixed_time());
  ASSERT_TRUE(old);
  ASSERT_TRUE(old->import_json(old_export(2), ledger_ring()));
  ASSERT_TRUE(old->withdraw(kJob2, "personal-text"));
  EXPECT_EQ(old->erase(kJob2).error().code, ErrorCode::refused);
  EXPECT_EQ(old->jobs()->size(), 1U);
  ASSERT_TRUE(add_job_and_run(*old, 7));
  const auto a = old->verify(ledger_ring());
  EXPECT_TRUE(a->sound()) << a->says;
  EXPECT_EQ(a->entries, 7);
}

TEST_F(LedgerWithdrawal, OnlyAKeyOfTheShopTakesBack) {
  const auto stranger = sign::SigningKey::from_seed(Bytes(32, 3)).value();
  {
    auto other = Ledger::open(dir / "l.db", stranger, fixed_time());
    ASSERT_TRUE(other);
    ASSERT_TRUE(other->withdraw(run_number(2), "test-run"));
  }
  const auto ring = ledger_ring();
  EXPECT_EQ(l->withdrawn(run_number(2), &ring).error().code, ErrorCode::unknown_key);
  EXPECT_EQ(audit().flaw, Flaw::unknown_key);
}

}  // namespace
}  // namespace hb::ledger
