// Several programs at one ledger, and one of them dies. Run for SQLite and for PostgreSQL.
#include <gtest/gtest.h>

#include <random>
#include <set>

#include "tests/reports/ledger/child.hpp"
#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;

TEST(LedgerTogether, KilledAtAnyMomentNothingAcknowledgedIsLost) {
  const Site dir;
  const auto file = dir / "l.db";
  std::mt19937 random(20261125);
  int acknowledged = 0;
  for (int round = 0; round < 20; ++round) {
    const int first = round * 1000;
    Child child([&](int to) {
      auto l = Ledger::open(file, ledger_key(), fixed_time());
      for (int n = first; l && n < first + 1000; ++n)
        if (add_job_and_run(*l, n)) say(to, 'a');
    });
    const int wanted = static_cast<int>(random() % 6);
    int seen = 0;
    while (seen < wanted && child.next() >= 0) ++seen;
    ASSERT_EQ(seen, wanted);
    volatile auto spin = random() % 200000;  // somewhere inside the next append
    while (spin > 0) spin = spin - 1;
    child.kill();
    seen += static_cast<int>(child.rest().size());  // what was acknowledged on the way

    auto l = Ledger::open(file, ledger_key(), fixed_time());
    ASSERT_TRUE(l) << l.error().message();
    const auto a = l->verify(ledger_ring());
    ASSERT_TRUE(a) << a.error().message();
    ASSERT_TRUE(a->sound()) << a->says;
    for (int n = first; n < first + seen; ++n) ASSERT_TRUE(l->find(run_number(n))) << "round " << round;
    acknowledged += seen;
  }
  EXPECT_GT(acknowledged, 20);
}

TEST(LedgerTogether, TwoProcessesAppendAtOnce) {
  const Site dir;
  const auto file = dir / "l.db";
  constexpr int kEach = 25;
  const auto appender = [&](int from) {
    return [&file, from](int to) {
      auto l = Ledger::open(file, ledger_key(), fixed_time(30000));
      for (int n = from; l && n < from + kEach; ++n)
        if (add_job_and_run(*l, n)) say(to, 'a');
    };
  };
  Child a(appender(0)), b(appender(1000));
  EXPECT_EQ(a.rest().size(), std::size_t{kEach});
  EXPECT_EQ(b.rest().size(), std::size_t{kEach});
  a.wait();
  b.wait();
  auto l = Ledger::read(file);
  ASSERT_TRUE(l);
  const auto audit = l->verify(ledger_ring());
  EXPECT_TRUE(audit->sound()) << audit->says;
  EXPECT_EQ(audit->entries, 4 * kEach);
  std::set<std::string> ids;
  const auto jobs = l->jobs();
  ASSERT_TRUE(jobs);
  for (const auto& job : *jobs) ids.insert(job.id);
  EXPECT_EQ(ids.size(), std::size_t{2 * kEach});
}

TEST(LedgerTogether, ANewOneMayBeOpenedByManyProcessesAtOnce) {
  for (int round = 0; round < 20; ++round) {
    const Site dir;
    const auto file = dir / "l.db";
    std::vector<std::unique_ptr<Child>> openers;
    for (int i = 0; i < 6; ++i)
      openers.push_back(std::make_unique<Child>([&file, i](int to) {
        auto l = Ledger::open(file, ledger_key(), fixed_time());
        say(to, l && add_job_and_run(*l, 100 * i) ? 'a' : '!');
      }));
    for (auto& o : openers) EXPECT_EQ(o->rest(), "a") << "round " << round;
    for (auto& o : openers) o->wait();
  }
}

}  // namespace
}  // namespace hb::ledger
