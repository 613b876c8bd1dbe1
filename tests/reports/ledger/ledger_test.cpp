#include "reports/ledger/ledger.hpp"

#include <gtest/gtest.h>

#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;

TEST(Ledger, NumbersJobsByTheirDayAndGoesOnAfterReopening) {
  const Site dir;
  {
    auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    ASSERT_TRUE(l) << l.error().message();
    auto fields = job_fields();
    fields.opened_utc.clear();
    EXPECT_EQ(l->open_job(fields)->id, "J-20261125-0001");
    EXPECT_EQ(l->open_job(fields)->opened_utc, "2026-11-25T08:00:00Z");
    fields.opened_utc = "2026-11-20T10:00:00Z";  // written up later
    EXPECT_EQ(l->open_job(fields)->id, "J-20261120-0001");
  }
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  auto fields = job_fields();
  fields.comeback_of = "J-20261120-0001";
  const auto job = l->open_job(fields);
  ASSERT_TRUE(job);
  EXPECT_EQ(job->id, "J-20261125-0003");
  ASSERT_TRUE(l->jobs());
  EXPECT_EQ(l->jobs()->size(), 4U);
  EXPECT_EQ(l->jobs()->at(3).comeback_of, "J-20261120-0001");
  EXPECT_EQ(record::to_json(*l->job(job->id)), record::to_json(*job));
}

TEST(Ledger, RefusesWhatDoesNotBelong) {
  const Site dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  auto fields = job_fields();
  fields.comeback_of = "J-20200101-0001";
  EXPECT_EQ(l->open_job(fields).error().code, ErrorCode::not_found);
  fields = job_fields();
  fields.opened_utc = "yesterday";
  EXPECT_EQ(l->open_job(fields).error().code, ErrorCode::bad_format);

  const auto job = l->open_job(job_fields()).value();
  const auto good = l->sign_record(run_of(job, 1)).value();
  auto stranger = job;
  stranger.id = "J-20200101-0001";
  EXPECT_EQ(l->append_run(l->sign_record(run_of(stranger, 2)).value()).error().code, ErrorCode::not_found);
  const auto stranger_key = sign::SigningKey::make();
  const auto other_key = sign::sign_record(run_of(job, 3, stranger_key), stranger_key).value();
  EXPECT_EQ(l->append_run(other_key).error().code, ErrorCode::unknown_key);
  EXPECT_EQ(l->append_run(std::string(good).replace(good.size() - 40, 4, "AAAA")).error().code,
            ErrorCode::altered);
  EXPECT_EQ(l->find(run_number(1)).error().code, ErrorCode::not_found);

  const auto first = l->append_run(good);
  ASSERT_TRUE(first) << first.error().message();
  EXPECT_EQ(first->seq, 2);
  const auto again = l->append_run(good);  // repeated after a crash: the same entry
  ASSERT_TRUE(again);
  EXPECT_EQ(again->seq, 2);
  auto differs = run_of(job, 1);
  differs["outcome"] = "fail";
  EXPECT_EQ(l->append_run(l->sign_record(differs).value()).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(l->head()->size, 2);
}

TEST(Ledger, FindsRunsAndWhatSupersedesThem) {
  const Site dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  const auto job = l->open_job(job_fields()).value();
  for (const int n : {1, 2, 3}) {
    auto r = run_of(job, n);
    if (n == 3) r["run"]["kind"] = "intake";
    ASSERT_TRUE(l->append_run(l->sign_record(r).value()));
  }
  EXPECT_EQ(l->runs(job.id)->size(), 3U);
  EXPECT_EQ(l->runs("J-20200101-0001")->size(), 0U);
  EXPECT_EQ(l->find(run_number(2))->content["run"]["id"], run_number(2));
  const auto later = l->superseded_by(run_number(1));
  ASSERT_TRUE(later);
  ASSERT_TRUE(later->has_value());
  EXPECT_EQ((*later)->content["run"]["id"], run_number(2));  // the intake run supersedes nothing
  EXPECT_FALSE(l->superseded_by(run_number(2))->has_value());
}

TEST(Ledger, ProvesThatAnEntryIsInIt) {
  const Site dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  for (int i = 0; i < 5; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
  for (std::int64_t seq = 1; seq <= 10; ++seq) {
    const auto p = l->inclusion(seq);
    ASSERT_TRUE(p) << p.error().message();
    EXPECT_TRUE(verify_inclusion(p->leaf, static_cast<std::size_t>(seq - 1), 10, p->path, p->head.root));
  }
  EXPECT_FALSE(l->inclusion(0));
  EXPECT_FALSE(l->inclusion(11));
  // The head is signed and says the same to anybody.
  const auto v = sign::verify_jws(l->head()->jws, ledger_ring());
  ASSERT_TRUE(v);
  EXPECT_EQ(v->payload, R"({"at":"2026-11-25T08:00:00Z","root":")" + hex(l->head()->root) +
                            R"(","schema":"handback-head-1","size":10})");
}

TEST(Ledger, TogetherIsAllOrNothing) {
  const Site dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  const auto r = l->together([&]() -> Result<void> {
    if (auto a = add_job_and_run(*l, 1); !a) return std::move(a).error();
    return Error{ErrorCode::cancelled, "the technician stopped it", "", ""};
  });
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::cancelled);
  EXPECT_EQ(l->head()->size, 0);
  ASSERT_TRUE(l->together([&]() -> Result<void> {
    for (int i = 0; i < 3; ++i)
      if (auto a = add_job_and_run(*l, i); !a) return std::move(a).error();
    return {};
  }));
  EXPECT_EQ(l->verify(ledger_ring())->entries, 6);
}

TEST(Ledger, IsReadAndVerifiedWithoutItsKey) {
  const Site dir;
  {
    auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
    ASSERT_TRUE(l);
    ASSERT_TRUE(add_job_and_run(*l, 1));
  }
  auto l = Ledger::read(dir / "l.db");
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_TRUE(l->verify(ledger_ring())->sound());
  EXPECT_TRUE(l->find(run_number(1)));
  EXPECT_EQ(l->open_job(job_fields()).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(l->verify(sign::KeyRing{})->flaw, Flaw::unknown_key);
  EXPECT_EQ(Ledger::read(dir / "nowhere").error().code, ErrorCode::not_found);
}

TEST(Ledger, ExportsWhatAnybodyCanRecompute) {
  const Site dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  ASSERT_TRUE(add_job_and_run(*l, 1));
  const auto j = l->export_json();
  ASSERT_TRUE(j);
  ASSERT_EQ((*j)["entries"].size(), 2U);
  std::vector<Digest> leaves;
  for (const auto& e : (*j)["entries"]) {
    leaves.push_back(leaf_hash(as_bytes(e["payload"].get_ref<const std::string&>())));
    EXPECT_EQ(e["leaf_hash"], hex(leaves.back()));
  }
  EXPECT_EQ(root(leaves), l->head()->root);
  EXPECT_EQ((*j)["heads"].back(), l->head()->jws);
}

}  // namespace
}  // namespace hb::ledger
