// The disk fills up, another program holds the file, the file is another one: said, and nothing is lost.
#include <gtest/gtest.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/resource.h>

#include <fstream>

#include "tests/reports/ledger/child.hpp"
#include "tests/reports/ledger/history.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;
namespace fs = std::filesystem;

TEST(LedgerFailure, AFullDiskIsSaidAndLosesNothing) {
  for (rlim_t room = 64 * 1024; room <= 256 * 1024; room += 24 * 1024 + 512) {
    const TempFolder dir;
    const auto file = dir / "l.db";
    Child child([&](int to) {
      auto l = Ledger::open(file, ledger_key(), fixed_time());
      if (!l) return say(to, '!');
      ::signal(SIGXFSZ, SIG_IGN);
      const rlimit all{RLIM_INFINITY, RLIM_INFINITY};
      rlimit tight{room, RLIM_INFINITY};
      ::setrlimit(RLIMIT_FSIZE, &tight);
      int n = 0;
      for (; n < 1000; ++n) {
        const auto r = add_job_and_run(*l, n);
        if (!r) {
          say(to, r.error().code == ErrorCode::io ? 'f' : '!');
          break;
        }
        say(to, 'a');
      }
      ::setrlimit(RLIMIT_FSIZE, &all);  // somebody made room
      say(to, add_job_and_run(*l, n) ? 'b' : '!');
    });
    const auto said = child.rest();
    child.wait();
    ASSERT_GE(said.size(), 2U);
    const auto n = said.size() - 2;
    EXPECT_EQ(said, std::string(n, 'a') + "fb") << room;
    auto l = Ledger::read(file);
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_TRUE(l->verify(ledger_ring())->sound());
    for (std::size_t i = 0; i <= n; ++i) EXPECT_TRUE(l->find(run_number(static_cast<int>(i)))) << room;
  }
}

TEST(LedgerFailure, AnotherProgramHoldingTheFileIsSaid) {
  const TempFolder dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time(10));
  ASSERT_TRUE(l);
  ASSERT_TRUE(add_job_and_run(*l, 1));
  sqlite3* other = nullptr;
  ASSERT_EQ(sqlite3_open((dir / "l.db").c_str(), &other), SQLITE_OK);
  ASSERT_EQ(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr), SQLITE_OK);
  const auto r = l->open_job(job_fields());
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::io);
  EXPECT_NE(r.error().what.find("in use"), std::string::npos) << r.error().message();
  EXPECT_TRUE(l->find(run_number(1)));  // readers do not wait for a writer
  sqlite3_exec(other, "ROLLBACK", nullptr, nullptr, nullptr);
  sqlite3_close(other);
  EXPECT_TRUE(l->open_job(job_fields()));
}

TEST(LedgerFailure, AFileThatIsNoLedgerIsLeftAlone) {
  const TempFolder dir;
  std::ofstream(dir / "text") << "not a database, but more than a hundred characters of something else "
                                 "that a shop may keep in a file with a telling name and a long life.";
  sqlite3* other = nullptr;
  ASSERT_EQ(sqlite3_open((dir / "shop.db").c_str(), &other), SQLITE_OK);
  sqlite3_exec(other, "CREATE TABLE customer(name TEXT)", nullptr, nullptr, nullptr);
  sqlite3_close(other);
  { ASSERT_TRUE(Ledger::open(dir / "newer.db", ledger_key())); }
  ASSERT_EQ(sqlite3_open((dir / "newer.db").c_str(), &other), SQLITE_OK);
  sqlite3_exec(other, "UPDATE schema_version SET version = 99", nullptr, nullptr, nullptr);
  sqlite3_close(other);
  fs::create_directory(dir / "folder");
  const struct {
    const char* file;
    ErrorCode code;
  } rows[] = {{"text", ErrorCode::bad_format},
              {"shop.db", ErrorCode::bad_format},
              {"newer.db", ErrorCode::bad_format},
              {"folder", ErrorCode::io},
              {"no/such/folder/l.db", ErrorCode::io}};
  for (const auto& r : rows) {
    const auto l = Ledger::open(dir / r.file, ledger_key());
    ASSERT_FALSE(l) << r.file;
    EXPECT_EQ(l.error().code, r.code) << r.file << ": " << l.error().message();
    EXPECT_FALSE(l.error().next.empty()) << r.file;
  }
}

}  // namespace
}  // namespace hb::ledger
