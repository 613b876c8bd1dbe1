// The journal keeps every whole line, whatever ended the program.
#include "harness/run/journal.hpp"

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include <csignal>
#include <fstream>

#include "tests/run/corrupt_journals.hpp"

namespace hb::run {
namespace {
using nlohmann::json;
namespace fs = std::filesystem;

struct JournalFile : testing::Test {
  fs::path file = fs::path(testing::TempDir()) / ("journal-" + std::to_string(::getpid()) + ".jsonl");
  void SetUp() override { fs::remove(file); }
  void TearDown() override { fs::remove(file); }
};

TEST_F(JournalFile, WhatWasAppendedIsReadBackExactly) {
  const json capture = {{"t", {0.1, 0.2, 1.0 / 3.0}}, {"n", 3}};
  {
    auto j = Journal::create(file, json{{"run_id", "r"}});
    ASSERT_TRUE(j);
    ASSERT_TRUE(j->append({{"check", "toy"}, {"capture", capture}}));
  }
  struct stat st {};
  ASSERT_EQ(::stat(file.c_str(), &st), 0);
  EXPECT_EQ(st.st_mode & 0777, 0600u);
  auto c = Journal::read(file);
  ASSERT_TRUE(c);
  ASSERT_EQ(c->entries.size(), 1u);
  EXPECT_EQ(c->entries[0]["capture"], capture);
  EXPECT_FALSE(Journal::create(file, json::object()));
}

TEST_F(JournalFile, ALineTornByAPowerCutIsDroppedAtEveryLength) {
  {
    auto j = Journal::create(file, json{{"run_id", "r"}});
    ASSERT_TRUE(j->append({{"check", "one"}}));
    ASSERT_TRUE(j->append({{"check", "two"}}));
  }
  std::string whole;
  std::getline(std::ifstream(file), whole, '\0');
  const auto second = whole.rfind("{\"check\":\"two\"");
  for (std::size_t cut = second; cut < whole.size(); ++cut) {
    std::ofstream(file, std::ios::trunc) << whole.substr(0, cut);
    {
      auto j = Journal::reopen(file);
      ASSERT_TRUE(j);
      ASSERT_TRUE(j->append({{"check", "three"}}));
    }
    auto c = Journal::read(file);
    ASSERT_TRUE(c) << cut;
    ASSERT_EQ(c->entries.size(), 2u) << cut;
    EXPECT_EQ(c->entries[1]["check"], "three");
  }
}

const std::string kGood =
    R"({"journal":"handback-journal-1","header":{"clock":"wall","job":"J-20261125-0001","kind":"release",)"
    R"("model":"petal","profile_sha256":"ab","run_id":"r","started":"2026-11-25T09:00:00Z","tag":"0f","tail":"AB7X"}})"
    "\n"
    R"({"bench_seconds":3.5,"capture":{"rows":[1,2.5]},"check":"touch_grid","connection":0,"from_s":12,"try":1})"
    "\n";

// Members of another type threw out of whoever asked for them, and a header 200,000 deep overflowed the
// stack.
TEST_F(JournalFile, OfAnyContentIsReadOrRefusedWithItsPlace) {
  std::ofstream(file, std::ios::trunc) << kGood;
  ASSERT_TRUE(Journal::read(file));
  int refused = 0;
  for (const auto& [name, bytes] : test::corrupt_journals(kGood)) {
    std::ofstream(file, std::ios::binary | std::ios::trunc) << bytes;
    const auto c = Journal::read(file);
    // A capture is for its check to judge, a profile for the run.
    const bool of_its_form = name == "profile_is_another" || name == "capture_is_a_text" ||
                             name == "capture_is_a_number" || name == "capture_is_of_another_check";
    EXPECT_EQ(c.has_value(), of_its_form) << name;
    if (c) continue;
    ++refused;
    EXPECT_EQ(c.error().code, ErrorCode::bad_format) << name;
    EXPECT_NE(c.error().where.find(file.string()), std::string::npos) << name;
  }
  EXPECT_GE(refused, 40);
}

TEST_F(JournalFile, ThatIsNoFileIsNotWaitedFor) {
  ASSERT_EQ(::mkfifo(file.c_str(), 0600), 0);
  EXPECT_EQ(Journal::read(file).error().code, ErrorCode::bad_format);
  fs::remove(file);
  fs::create_directory(file);
  EXPECT_EQ(Journal::read(file).error().code, ErrorCode::bad_format);
}

TEST_F(JournalFile, AFirstLineOfAnotherKindIsRefused) {
  for (const char* line :
       {R"({"journal":1,"header":{}})", R"({"journal":["handback-journal-1"],"header":{}})",
        R"({"header":{}})", R"({"journal":"handback-journal-1"})"}) {
    std::ofstream(file) << line << "\n";
    const auto c = Journal::read(file);
    ASSERT_FALSE(c) << line;
    EXPECT_EQ(c.error().code, ErrorCode::bad_format) << line;
  }
}

TEST_F(JournalFile, AFullDiskIsSaidAndLosesNothing) {
  auto j = Journal::create(file, json{{"run_id", "r"}});
  ASSERT_TRUE(j->append({{"check", "one"}}));
  const auto size = fs::file_size(file);
  std::signal(SIGXFSZ, SIG_IGN);
  rlimit old{};
  ::getrlimit(RLIMIT_FSIZE, &old);
  const rlimit tight{size + 10, old.rlim_max};
  ::setrlimit(RLIMIT_FSIZE, &tight);
  const auto r = j->append({{"check", "two"}, {"capture", json::array({1, 2, 3, 4, 5, 6, 7, 8, 9})}});
  ::setrlimit(RLIMIT_FSIZE, &old);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::io);
  EXPECT_EQ(fs::file_size(file), size);
  ASSERT_TRUE(j->append({{"check", "two"}}));
  EXPECT_EQ(Journal::read(file)->entries.size(), 2u);
}

TEST_F(JournalFile, PersonalTextInACaptureIsRefused) {
  auto j = Journal::create(file, json{{"run_id", "r"}});
  const auto r = j->append({{"check", "toy"}, {"capture", {{"name", "ann@example.org"}}}});
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::privacy);
  EXPECT_TRUE(Journal::read(file)->entries.empty());
}
}  // namespace
}  // namespace hb::run
