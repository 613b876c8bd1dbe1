#include <gtest/gtest.h>
#include <sqlite3.h>

#include "reports/comebacks/comebacks.hpp"
#include "tests/reports/ledger/history.hpp"

namespace hb::comebacks {
namespace {
using namespace testing_support;
using nlohmann::json;

/// A ledger written by hand: dates and outcomes that a test can count on its fingers.
class Shop {
 public:
  Shop() : ledger_(ledger::Ledger::open(dir_ / "l.db", ledger_key(), fixed_time()).value()) {}
  std::string job(const char* opened, Term lot, const std::string& comeback_of = {}) {
    auto f = job_fields();
    f.opened_utc = opened;
    f.parts_fitted = {{Term("display-hinge assembly"), lot}};
    f.comeback_of = comeback_of;
    return ledger_.open_job(f).value().id;
  }
  void run(const std::string& job, const char* kind, const char* finished, const char* outcome = "pass",
           double risk = 1e-9) {
    auto r = run_of(ledger_.job(job).value(), ++runs_);
    r["run"]["kind"] = kind;
    r["run"]["finished"] = finished;
    r["checks"][0]["outcome"] = outcome;
    r["checks"][0]["verdicts"][0]["false_accept_risk"] = risk;
    ASSERT_TRUE(ledger_.append_run(ledger_.sign_record(r).value()));
  }
  Study study(const char* as_of) const { return collect(ledger_, as_of, ledger_ring()).value(); }
  std::filesystem::path file() const { return dir_ / "l.db"; }
  const ledger::Ledger& ledger() const { return ledger_; }

 private:
  TempFolder dir_;
  ledger::Ledger ledger_;
  int runs_ = 0;
};

TEST(ComebackAudit, CountsDaysFromTheLastReleaseToTheFirstReturn) {
  Shop s;
  const auto a = s.job("2026-01-01T08:00:00Z", "LOT-1");
  s.run(a, "intake", "2026-01-01T09:00:00Z", "fail");
  s.run(a, "release", "2026-01-02T12:00:00Z", "fail");
  s.run(a, "release", "2026-01-03T12:00:00Z", "marginal", 0.04);  // the retest that it left with
  const auto b = s.job("2026-01-05T08:00:00Z", "LOT-2");
  s.run(b, "release", "2026-01-06T00:00:00Z");
  const auto waiting = s.job("2026-01-07T08:00:00Z", "LOT-2");  // never finished
  s.run(waiting, "intake", "2026-01-07T09:00:00Z");
  const auto back = s.job("2026-01-13T00:00:00Z", "LOT-3", a);
  s.run(back, "comeback", "2026-01-13T01:00:00Z", "fail");
  s.run(back, "release", "2026-01-14T00:00:00Z");
  s.job("2026-01-20T00:00:00Z", "LOT-4", a);  // a second return of the same job changes nothing

  const auto study = s.study("2026-01-26T00:00:00Z");
  ASSERT_EQ(study.subjects.size(), 3U);
  EXPECT_EQ(study.without_release, 2);
  const auto& first = study.subjects[0];
  EXPECT_TRUE(first.days.event);
  EXPECT_DOUBLE_EQ(first.days.time, 9.5);
  EXPECT_EQ(first.comeback_job, back);
  EXPECT_EQ(first.not_clean, std::vector<std::string>{"hinge_sweep"});
  EXPECT_EQ(first.worst_measure, "hinge_sweep.offset_flat_deg");
  EXPECT_EQ(first.failed_at_return, std::vector<std::string>{"hinge_sweep"});
  EXPECT_FALSE(study.subjects[1].days.event);
  EXPECT_DOUBLE_EQ(study.subjects[1].days.time, 20);
  EXPECT_DOUBLE_EQ(study.subjects[2].days.time, 12);  // the repaired comeback is watched as well

  const auto what = signs(study);
  EXPECT_EQ(what.comebacks, 1);
  EXPECT_EQ(what.clean_releases, 0);
  EXPECT_EQ(what.failed_at_return.at("hinge_sweep"), 1);
}

TEST(ComebackAudit, KnowsNothingOfWhatCameAfterItsDate) {
  Shop s;
  const auto a = s.job("2026-01-01T08:00:00Z", "LOT-1");
  s.run(a, "release", "2026-01-03T12:00:00Z");
  s.run(s.job("2026-01-13T12:00:00Z", "LOT-1", a), "release", "2026-01-14T00:00:00Z");
  const auto before = s.study("2026-01-13T11:59:59Z");
  ASSERT_EQ(before.subjects.size(), 1U);
  EXPECT_FALSE(before.subjects[0].days.event);
  EXPECT_TRUE(s.study("2026-01-13T12:00:00Z").subjects[0].days.event);
  EXPECT_EQ(s.study("2026-01-03T11:59:59Z").subjects.size(), 0U);
  EXPECT_FALSE(collect(s.ledger(), "last week", ledger_ring()));
}

TEST(ComebackAudit, LeavesOutAReturnBeforeItsRelease) {
  Shop s;
  const auto a = s.job("2026-01-01T08:00:00Z", "LOT-1");
  s.run(a, "release", "2026-01-10T12:00:00Z");
  s.job("2026-01-09T00:00:00Z", "LOT-1", a);
  const auto study = s.study("2026-02-01T00:00:00Z");
  EXPECT_EQ(study.subjects.size(), 0U);
  EXPECT_EQ(study.odd_dates, 1);
}

TEST(ComebackAudit, SmallSamplesSaySo) {
  Shop s;
  for (int i = 0; i < 3; ++i)
    s.run(s.job("2026-01-01T08:00:00Z", "LOT-1"), "release", "2026-01-02T12:00:00Z");
  const auto study = s.study("2026-02-01T00:00:00Z");
  const auto c = compare(study, By::lot);
  EXPECT_EQ(c.part, "display-hinge assembly");
  ASSERT_EQ(c.groups.size(), 1U);
  EXPECT_TRUE(c.few);
  const auto text = render(study, c, signs(study));
  EXPECT_NE(text.find("n=3: too few to tell"), std::string::npos) << text;
  EXPECT_NE(text.find("Too few comebacks or groups to compare"), std::string::npos) << text;
  EXPECT_EQ(text.find("chi-square"), std::string::npos) << text;
  const auto j = to_json(study, c, signs(study));
  EXPECT_EQ(j["groups"][0]["too_few"], true);
  EXPECT_EQ(j["log_rank"]["too_few"], true);
}

TEST(ComebackAudit, AChangedEntryIsNamedAndNotCounted) {
  Shop s;
  const auto a = s.job("2026-01-01T08:00:00Z", "LOT-1");
  s.run(a, "release", "2026-01-03T12:00:00Z");
  s.job("2026-01-13T12:00:00Z", "LOT-1", a);
  const auto as_of = "2026-02-01T00:00:00Z";
  const auto good = s.study(as_of);
  EXPECT_TRUE(good.verified);
  const auto of = [](const Study& study) { return render(study, compare(study, By::lot), signs(study)); };
  EXPECT_EQ(of(good).find("NOT VERIFIED"), std::string::npos);

  // Entry 3 tells of a comeback; with a database shell it becomes another job's.
  sqlite3* db = nullptr;
  ASSERT_EQ(sqlite3_open(s.file().c_str(), &db), SQLITE_OK);
  ASSERT_EQ(sqlite3_exec(db,
                         "DROP TRIGGER entry_is_never_changed;"
                         "UPDATE entry SET payload = (SELECT payload FROM entry WHERE seq = 1) WHERE seq = 3",
                         nullptr, nullptr, nullptr),
            SQLITE_OK);
  sqlite3_close(db);
  const auto refused = collect(s.ledger(), as_of, ledger_ring());
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::altered);
  EXPECT_EQ(refused.error().where, "entry 3") << refused.error().message();
  const auto all_the_same = collect_unverified(s.ledger(), as_of);
  ASSERT_TRUE(all_the_same);
  EXPECT_FALSE(all_the_same->verified);
  EXPECT_NE(of(*all_the_same).find("NOT VERIFIED"), std::string::npos);
  EXPECT_EQ(collect(s.ledger(), as_of, sign::KeyRing()).error().code, ErrorCode::unknown_key);
}

TEST(ComebackAudit, AnEmptyLedgerIsNoError) {
  Shop s;
  const auto study = s.study("2026-02-01T00:00:00Z");
  for (const By by : {By::lot, By::model, By::repair}) {
    const auto c = compare(study, by);
    EXPECT_FALSE(render(study, c, signs(study)).empty());
    EXPECT_EQ(to_csv(c), "group,time,event\n");
  }
}

TEST(ComebackAudit, GroupNamesWithCommasAreQuotedForOtherPrograms) {
  Shop s;
  s.run(s.job("2026-01-01T08:00:00Z", "LOT \"A\", second box"), "release", "2026-01-02T00:00:00Z");
  const auto c = compare(s.study("2026-01-04T12:00:00Z"), By::lot);
  EXPECT_EQ(to_csv(c), "group,time,event\n\"LOT \"\"A\"\", second box\",2.5,0\n");
}

}  // namespace
}  // namespace hb::comebacks
