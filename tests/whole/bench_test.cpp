// A bench's day: name the bench, take a job in, measure it before and after the repair, take it back.
#include <gtest/gtest.h>

#include "whole.hpp"

namespace hb::test {
namespace {

struct Bench : testing::Test {
  TempFolder t;
  std::unique_ptr<Background> phone;
  nlohmann::json ports;

  void SetUp() override {
    ASSERT_EQ(call({"bench", "init", "--shop", "Tarn Street Phones", "--contact", "3 Tarn Street"}).code, 0);
  }
  void plug_in(std::vector<std::string> more) {
    std::vector<std::string> words{standin(), "--port", "0", "--jig-port", "0", "--clock", "stepped"};
    words.insert(words.end(), more.begin(), more.end());
    phone.reset();
    phone = std::make_unique<Background>(words);
    ports = nlohmann::json::parse(phone->first_line(), nullptr, false);
    ASSERT_TRUE(ports.is_object()) << phone->first_line();
  }
  Finished call(std::vector<std::string> words) {
    words.insert(words.begin(), {handback(), "--json", "--home", t / "home"});
    return run(words, 200);
  }
  std::vector<std::string> on_phone() {
    return {"--device", "tcp:127.0.0.1:" + std::to_string(ports["port"].get<int>()), "--fixture",
            "tcp:127.0.0.1:" + std::to_string(ports["jig_port"].get<int>())};
  }
  Finished checklist(std::vector<std::string> more) {
    std::vector<std::string> words{"run"};
    for (const auto& w : on_phone()) words.push_back(w);
    words.insert(words.end(), more.begin(), more.end());
    return call(words);
  }
  std::string job(std::vector<std::string> more) {
    std::vector<std::string> words{"intake",       "--fault", "screen-dark",           "--repair",
                                   "display-swap", "--part",  "display-assembly@LOT-7"};
    words.insert(words.end(), more.begin(), more.end());
    const auto r = call(words);
    EXPECT_EQ(r.code, 0) << r.err;
    return r.json().value("job", "");
  }
};

TEST_F(Bench, IntakeRunReleaseRunAndComebackAreLinked) {
  const auto first = job({"--consent"});
  plug_in({"--model", "plank", "--seed", "3", "--fault", "digitizer-row-open"});
  const auto before = checklist({"--job", first, "--kind", "intake"});
  EXPECT_EQ(before.code, 1) << before.err;
  plug_in({"--model", "plank", "--seed", "3"});
  const auto after = checklist({"--job", first});
  ASSERT_EQ(after.code, 0) << after.out << after.err;
  EXPECT_EQ(call({"verify", after.json()["sheet_pdf"]}).code, 0);

  const auto again = checklist({"--job", first});
  ASSERT_EQ(again.code, 0) << again.err;
  const auto old_sheet = call({"verify", after.json()["sheet_pdf"]});
  EXPECT_EQ(old_sheet.code, 3);
  EXPECT_EQ(old_sheet.json()["status"], "superseded");

  const auto back = job({"--consent", "--comeback-of", first});
  plug_in({"--model", "plank", "--seed", "3", "--fault", "coil-misplaced"});
  EXPECT_EQ(checklist({"--job", back, "--kind", "comeback"}).code, 1);
  const auto audit = call({"comebacks"});
  EXPECT_EQ(audit.code, 0) << audit.err;
  EXPECT_NE(audit.out.find("LOT-7"), std::string::npos) << audit.out;
  EXPECT_NE(audit.out.find("wireless_charging"), std::string::npos) << audit.out;
  EXPECT_EQ(call({"ledger", "verify"}).code, 0);
}

TEST_F(Bench, WithoutConsentNothingIsMeasured) {
  const auto j = job({});
  plug_in({"--model", "plank"});
  const auto r = checklist({"--job", j});
  EXPECT_EQ(r.code, 2);
  EXPECT_NE(r.err.find("consent"), std::string::npos) << r.err;
}

TEST_F(Bench, AnotherModelThanTheProfilesSaysHowToMakeAProfile) {
  job({"--consent"});
  plug_in({"--model", "plank"});
  const auto r = checklist({"--profile", std::string(HB_SOURCE_DIR) + "/profiles/models/petal.toml"});
  EXPECT_EQ(r.code, 2);
  EXPECT_NE(r.err.find("handback profile new"), std::string::npos) << r.err;
}

TEST_F(Bench, APhoneThatStaysAwayPausesTheRunAndItIsResumedLater) {
  const auto j = job({"--consent"});
  plug_in({"--model", "plank", "--seed", "4", "--pull-after-packets", "900", "--back-after-ms", "3600000"});
  const auto paused = checklist({"--job", j, "--wait", "1"});
  EXPECT_EQ(paused.code, 4) << paused.err;
  EXPECT_NE(paused.err.find("--resume"), std::string::npos) << paused.err;
  const auto list = call({"run", "--list"}).json();
  ASSERT_EQ(list.size(), 1u);
  ASSERT_GE(list[0]["checks_done"], 1);
  const auto id = list[0]["run"].get<std::string>();

  plug_in({"--model", "plank", "--seed", "5"});
  const auto other = checklist({"--job", j, "--resume", id});
  EXPECT_EQ(other.code, 2) << "another phone must not finish this run\n" << other.err;

  plug_in({"--model", "plank", "--seed", "4"});
  const auto rest = checklist({"--job", j, "--resume", id});
  EXPECT_EQ(rest.code, 0) << rest.out << rest.err;
  EXPECT_NE(rest.err.find("measured before"), std::string::npos) << rest.err;
}

TEST_F(Bench, NobodyThereToFollowThePromptsIsNotTestedAndNeverPass) {
  const auto j = job({"--consent", "--waive", "batteries:customer-declined"});
  plug_in({"--model", "plank"});
  const auto r = call({"run", "--device", "tcp:127.0.0.1:" + std::to_string(ports["port"].get<int>()),
                       "--job", j, "--waive", "batteries:customer-declined"});
  EXPECT_EQ(r.code, 3) << r.out << r.err;
  for (const auto& c : r.json()["checks"]) EXPECT_NE(c["outcome"], "pass") << c;
}
}  // namespace
}  // namespace hb::test
