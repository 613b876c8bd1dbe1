// The disk goes wrong at every kind of moment: what was acknowledged is there afterwards, the ledger is
// sound, and work goes on. 500 seeded points over five faults.
#include <gtest/gtest.h>

#include "tests/reports/ledger/child.hpp"
#include "tests/reports/ledger/faulty_vfs.hpp"
#include "tests/reports/ledger/history.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;
namespace fs = std::filesystem;

constexpr std::uintmax_t kRoom = 16 << 20;
constexpr int kPoints = 100;  ///< for each fault
constexpr int kPairs = 5;     ///< jobs with a run, half of them after closing and opening again

Options on(const FaultyDisk& disk) {
  auto o = fixed_time();
  o.vfs = disk.name();
  return o;
}

/// A day at the bench; `acknowledge` is told of every job and run that was answered for. Whatever fails is
/// not tried again: the next piece of work is.
template <class F>
void work(const fs::path& file, const Options& options, F&& acknowledge) {
  for (int half = 0; half < 2; ++half) {
    auto l = Ledger::open(file, ledger_key(), options);
    if (!l) continue;
    for (int n = half * kPairs; n < (half + 1) * kPairs; ++n) {
      const auto job = l->open_job(job_fields());
      if (!job) continue;
      acknowledge('J', n, job->id);
      const auto jws = l->sign_record(run_of(*job, n));
      if (jws && l->append_run(*jws)) acknowledge('R', n, job->id);
    }
  }
}

struct Found {
  int acknowledged = 0, lost = 0;
  std::string trouble;  ///< empty: opened, sound, and appending goes on
};

struct Acknowledged {
  std::vector<std::string> jobs;
  std::vector<int> runs;
};

/// What is there when the ordinary file system has the file again.
Found look(const fs::path& file, const Acknowledged& a) {
  Found f;
  f.acknowledged = static_cast<int>(a.jobs.size() + a.runs.size());
  auto l = Ledger::open(file, ledger_key(), fixed_time());
  if (!l) return f.trouble = "opening: " + l.error().message(), f;
  for (const auto& id : a.jobs) f.lost += l->job(id) ? 0 : 1;
  for (const int n : a.runs) f.lost += l->find(run_number(n)) ? 0 : 1;
  const auto before = l->verify(ledger_ring());
  if (!before || !before->sound())
    return f.trouble = "verifying: " + (before ? before->says : before.error().message()), f;
  if (const auto r = add_job_and_run(*l, 9999); !r) return f.trouble = "appending: " + r.error().message(), f;
  const auto after = l->verify(ledger_ring());
  if (!after || !after->sound() || after->entries != before->entries + 2) f.trouble = "appending spoiled it";
  return f;
}

std::int64_t operations_of_a_day() {
  const TempFolder dir(quick_folder(kRoom));
  const FaultyDisk disk(Plan{});
  work(dir / "l.db", on(disk), [](char, int, const std::string&) {});
  return disk.operations();
}

Found trial(const Plan& plan, bool* happened = nullptr) {
  const TempFolder dir(quick_folder(kRoom));
  const auto file = dir / "l.db";
  Acknowledged a;
  FaultyDisk disk(plan);
  work(file, on(disk), [&](char what, int n, const std::string& job) {
    if (what == 'J')
      a.jobs.push_back(job);
    else
      a.runs.push_back(n);
  });
  if (plan.fault == Fault::power_cut) disk.settle();
  if (happened != nullptr) *happened = disk.happened();
  return look(file, a);
}

Plan plan_for(Fault fault, int point, std::int64_t operations) {
  const auto seed = static_cast<std::uint32_t>(static_cast<int>(fault) * 1000 + point);
  std::mt19937 random(seed);
  return {fault, 1 + static_cast<std::int64_t>(random()) % operations, seed};
}

void every_point_holds(Fault fault) {
  const auto operations = operations_of_a_day();
  ASSERT_GT(operations, 100);
  int acknowledged = 0, struck = 0;
  for (int point = 0; point < kPoints; ++point) {
    const auto plan = plan_for(fault, point, operations);
    bool happened = false;
    const auto f = trial(plan, &happened);
    EXPECT_EQ(f.lost, 0) << "point " << point << ", operation " << plan.at;
    EXPECT_EQ(f.trouble, "") << "point " << point << ", operation " << plan.at;
    acknowledged += f.acknowledged;
    struck += happened ? 1 : 0;
  }
  // Neither all before the first entry nor all after the last.
  EXPECT_GT(struck, kPoints * 9 / 10);
  EXPECT_GT(acknowledged, kPoints * kPairs);
  EXPECT_LT(acknowledged, kPoints * kPairs * 4);
}

TEST(LedgerPower, ATornWrite) { every_point_holds(Fault::torn_write); }
TEST(LedgerPower, ADiskThatIsFullForAWhile) { every_point_holds(Fault::no_space); }
TEST(LedgerPower, OneCallThatFails) { every_point_holds(Fault::io_error); }
TEST(LedgerPower, APowerCut) { every_point_holds(Fault::power_cut); }

TEST(LedgerPower, KilledAtTheStroke) {
  const auto operations = operations_of_a_day();
  int acknowledged = 0;
  for (int point = 0; point < kPoints; ++point) {
    const auto plan = plan_for(Fault::kill, point, operations);
    const TempFolder dir(quick_folder(kRoom));
    const auto file = dir / "l.db";
    Child child([&](int to) {
      const FaultyDisk disk(plan);
      work(file, on(disk), [&](char what, int, const std::string&) { say(to, what); });
      say(to, '!');
    });
    const auto said = child.rest();
    child.wait();
    ASSERT_EQ(said.find('!'), std::string::npos) << "it lived on";
    Acknowledged a;  // the clock stands still and nothing failed before, so the names are known
    for (const char c : said) {
      if (c == 'J') a.jobs.push_back(fmt::format("J-20261125-{:04}", a.jobs.size() + 1));
      if (c == 'R') a.runs.push_back(static_cast<int>(a.runs.size()));
    }
    const auto f = look(file, a);
    EXPECT_EQ(f.lost, 0) << "point " << point << ", operation " << plan.at;
    EXPECT_EQ(f.trouble, "") << "point " << point << ", operation " << plan.at;
    acknowledged += f.acknowledged;
  }
  EXPECT_GT(acknowledged, kPoints * kPairs);
}

/// The finder finds: with fewer syncs than synchronous=FULL the same points lose acknowledged entries.
TEST(LedgerPower, WithoutSyncingThePowerCutIsNoticed) {
  const auto operations = operations_of_a_day();
  const struct {
    const char* as_with;
    bool log, other;
  } rows[] = {{"synchronous=NORMAL", false, true}, {"synchronous=OFF", false, false}};
  for (const auto& r : rows) {
    int lossy = 0;
    for (int point = 0; point < 20; ++point) {
      auto plan = plan_for(Fault::power_cut, point, operations);
      plan.obeys_log_syncs = r.log;
      plan.obeys_other_syncs = r.other;
      const auto f = trial(plan);
      lossy += f.lost > 0 || !f.trouble.empty() ? 1 : 0;
    }
    EXPECT_GT(lossy, 5) << r.as_with;
  }
}

}  // namespace
}  // namespace hb::ledger
