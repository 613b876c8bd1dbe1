// Whatever a cable does, a run ends in a verdict, a pause or a named error, within a bound, and a faulty part
// never passes because of it.
// A bug once: a phone that went silent without closing its connection left every check after it "not tested";
// now the run takes it for lost, waits for it and goes on.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/proxy/trials.hpp"
#include "tests/support/process.hpp"

namespace hb::test {
namespace {
TEST(BadCable, EveryRunEndsAndNoFaultyPartPasses) {
  const TempFolder folder;
  const auto ends = run_trials(1, 60, 60, std::chrono::seconds(120), folder.path());
  fmt::print("{}", table(ends));
  ASSERT_EQ(ends.size(), 60u);
  std::size_t harmed = 0;
  for (const auto& e : ends) {
    EXPECT_TRUE(e.ended) << words(e.trial);
    EXPECT_FALSE(e.wrong_pass) << words(e.trial);
    EXPECT_FALSE(e.how.starts_with("error: internal")) << words(e.trial);
    EXPECT_FALSE(e.trial.plan.harm == Harm::silent && e.how == "not tested") << words(e.trial);
    harmed += e.harmed;
  }
  EXPECT_GE(harmed, 30u) << "the seeds do too little harm to prove anything";
}
}  // namespace
}  // namespace hb::test
