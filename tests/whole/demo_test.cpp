// The main job, end to end, on both models.
#include <gtest/gtest.h>

#include "whole.hpp"

namespace hb::test {
namespace {

class WholeRun : public testing::TestWithParam<const char*> {};

TEST_P(WholeRun, AHealthyPhonePassesEveryCheckAndGetsASignedSheet) {
  TempFolder t;
  const auto r = demo(t / "out", {"--model", GetParam()});
  ASSERT_EQ(r.code, 0) << r.out << r.err;
  const auto j = r.json();
  ASSERT_TRUE(j.is_object()) << r.out;
  EXPECT_EQ(j["outcome"], "pass");
  EXPECT_GE(j["checks"].size(), 4u);
  for (const auto& c : j["checks"]) EXPECT_EQ(c["outcome"], "pass") << c;
  for (const char* file : {"sheet_pdf", "sheet_html", "record"}) {
    const auto v = run({handback(), "--home", t / "out", "verify", j[file].get<std::string>()});
    EXPECT_EQ(v.code, 0) << v.out << v.err;
  }
}
INSTANTIATE_TEST_SUITE_P(Models, WholeRun, testing::Values("petal", "plank"),
                         [](const auto& p) { return std::string(p.param); });

TEST(WholeRun, TheSameUnitGivesTheSameNumbersTwice) {
  TempFolder t;
  std::vector<nlohmann::json> checks;
  for (const char* folder : {"a", "b"}) {
    const auto r = demo(t / folder, {"--seed", "5"});
    ASSERT_EQ(r.code, 0) << r.err;
    const auto v =
        run({handback(), "--json", "--home", t / folder, "verify", r.json()["record"].get<std::string>()});
    ASSERT_EQ(v.code, 0) << v.out;
    checks.push_back(v.json()["record"]["checks"]);
    for (auto& c : checks.back()) c.erase("taken");  // in which run, and when
  }
  EXPECT_EQ(checks[0], checks[1]);
}

TEST(WholeRun, HealthyUnitsDoNotFail) {
  for (const char* model : {"petal", "plank"})
    for (int seed = 101; seed <= 104; ++seed) {
      TempFolder t;
      const auto r = demo(t / "out", {"--model", model, "--seed", std::to_string(seed)});
      EXPECT_NE(r.code, 1) << model << " seed " << seed << "\n" << r.out;
      EXPECT_TRUE(r.code == 0 || r.code == 3) << r.err;
    }
}

TEST(WholeRun, AConditionMakesACheckNotTestedAndNeverFailed) {
  const std::pair<const char*, const char*> rows[] = {{"battery-full", "wireless_charging"},
                                                      {"phone-hot", "wireless_charging"},
                                                      {"sensor-silent", "hinge_sweep"},
                                                      {"fold-forced", "hinge_sweep"},
                                                      {"battery-frozen", "batteries"},
                                                      {"chart-held-badly", "cameras"},
                                                      {"sim-left-out", "radios"}};
  for (const auto& [condition, check] : rows) {
    TempFolder t;
    const auto r = demo(t / "out", {"--fault", condition});
    EXPECT_EQ(r.code, 3) << condition << r.out << r.err;
    for (const auto& c : r.json()["checks"])
      if (c["id"] == check) {
        EXPECT_EQ(c["outcome"], "not tested") << condition;
        EXPECT_NE(c["reason"], "") << condition;
      }
  }
}

TEST(WholeRun, ABadAimIsTakenAgainAndThenPasses) {
  for (int seed = 9; seed < 18; seed += 4) {  // three of the ways to aim badly
    TempFolder t;
    const auto r = demo(t / "out", {"--fault", "chart-held-badly:0.5", "--seed", std::to_string(seed)});
    EXPECT_EQ(r.code, 0) << seed << r.out << r.err;
  }
}

TEST(WholeRun, WithoutABrowserTheCamerasAreNotTested) {
  TempFolder t;
  const auto r = demo(t / "out", {"--browser", "none"});
  EXPECT_EQ(r.code, 3) << r.err;
  for (const auto& c : r.json()["checks"])
    if (c["id"] == "cameras") {
      EXPECT_EQ(c["outcome"], "not tested");
    }
}

struct Mistake {
  const char* name;
  std::vector<std::string> words;
  const char* says;
};
class WrongCall : public testing::TestWithParam<Mistake> {};
TEST_P(WrongCall, SaysWhatToDoAndExitsWithTwo) {
  TempFolder t;
  std::vector<std::string> words{handback(), "--home", t / "home"};
  words.insert(words.end(), GetParam().words.begin(), GetParam().words.end());
  const auto r = run(words, 60);
  EXPECT_EQ(r.code, 2) << r.out << r.err;
  EXPECT_NE((r.err + r.out).find(GetParam().says), std::string::npos) << r.err << r.out;
}
INSTANTIATE_TEST_SUITE_P(
    Table, WrongCall,
    testing::Values(
        Mistake{"NoSuchFault",
                {"demo", "--fault", "lens-film-lefton", "--out", "/tmp/handback-test-none"},
                "lens-film-left-on"},
        Mistake{"RunBeforeTheBenchIsNamed", {"run", "--device", "tcp:127.0.0.1:1"}, "handback bench init"},
        Mistake{"BadAddress", {"run", "--device", "ftp://x"}, "bench init"},
        Mistake{"PersonalTextAtIntake",
                {"intake", "--fault-text", "call +49 170 1234567", "--repair", "swap"},
                "telephone"},
        Mistake{"VerifyNothing", {"verify"}, "FILE"},
        Mistake{"VerifyMissingFile", {"verify", "/nonexistent.pdf"}, "cannot read"},
        Mistake{"ProfileMissing", {"profile", "check", "/nonexistent.toml"}, "handback profile new"}),
    [](const auto& p) { return std::string(p.param.name); });
}  // namespace
}  // namespace hb::test
