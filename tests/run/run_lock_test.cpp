// Two programs on one run would write two ends into one journal.
#include "harness/run/run_lock.hpp"

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <optional>

namespace hb::run {
namespace {
namespace fs = std::filesystem;

TEST(RunLock, TheSecondOneHearsWhoHoldsItAndSinceWhen) {
  const auto file = fs::path(testing::TempDir()) / ("lock-" + std::to_string(::getpid()));
  std::optional<RunLock> held;
  if (auto l = RunLock::take(file, "2026-11-25T09:00:00Z"); l) held.emplace(std::move(*l));
  ASSERT_TRUE(held);
  const auto second = RunLock::take(file, "2026-11-25T09:01:00Z");
  ASSERT_FALSE(second);
  EXPECT_NE(second.error().what.find("process " + std::to_string(::getpid())), std::string::npos);
  EXPECT_NE(second.error().what.find("since 2026-11-25T09:00:00Z"), std::string::npos);
  held.reset();
  EXPECT_FALSE(fs::exists(file));
  EXPECT_TRUE(RunLock::take(file, "2026-11-25T09:02:00Z"));
}

TEST(RunLock, AProgramThatWasKilledLeavesNone) {
  const auto file = fs::path(testing::TempDir()) / ("killed-" + std::to_string(::getpid()));
  int ready[2];
  ASSERT_EQ(::pipe(ready), 0);
  const pid_t child = ::fork();
  if (child == 0) {
    auto l = RunLock::take(file, "2026-11-25T09:00:00Z");
    const char c = l ? 'y' : 'n';
    if (::write(ready[1], &c, 1) == 1) ::pause();
    ::_exit(1);
  }
  char c = 0;
  ASSERT_EQ(::read(ready[0], &c, 1), 1);
  ASSERT_EQ(c, 'y');
  EXPECT_FALSE(RunLock::take(file, "2026-11-25T09:01:00Z"));
  ::kill(child, SIGKILL);
  ::waitpid(child, nullptr, 0);
  EXPECT_TRUE(RunLock::take(file, "2026-11-25T09:02:00Z"));
  ::close(ready[0]);
  ::close(ready[1]);
}
}  // namespace
}  // namespace hb::run
