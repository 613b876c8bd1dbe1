// The cable is pulled anywhere: the run says so, keeps what it measured, goes on when the phone is back, and
// the numbers are judged as if nothing had happened.
#include <gtest/gtest.h>

#include "whole.hpp"

namespace hb::test {
namespace {

class CablePulled : public testing::TestWithParam<int> {};

TEST_P(CablePulled, TheRunPausesAndGoesOn) {
  TempFolder t;
  const auto r = demo(t / "out", {"--pull-after", std::to_string(GetParam())}, false);
  ASSERT_EQ(r.code, 0) << r.out << r.err;
  EXPECT_NE(r.err.find("PAUSED"), std::string::npos) << r.err;
  EXPECT_NE(r.err.find("The same phone is back"), std::string::npos) << r.err;
  for (const auto& c : r.json()["checks"]) EXPECT_EQ(c["outcome"], "pass") << c;
}
INSTANTIATE_TEST_SUITE_P(AfterPackets, CablePulled, testing::Values(60, 400, 900, 1500, 2100, 2600));
}  // namespace
}  // namespace hb::test
