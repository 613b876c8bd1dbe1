// What the intake may write down: faults from the closed list, and free text only through the screen.
#include <gtest/gtest.h>

#include "harness/base/encoding.hpp"
#include "harness/base/text.hpp"
#include "whole.hpp"

namespace hb::test {
namespace {
struct Intake : testing::Test {
  TempFolder t;
  Finished intake(std::vector<std::string> words) {
    words.insert(words.begin(), {handback(), "--json", "--home", t / "home", "intake"});
    return run(words, 60);
  }
  std::size_t entries() {
    const auto list = run({handback(), "--json", "--home", t / "home", "ledger", "list"}, 60);
    return list.code == 0 ? list.json().size() : 0;
  }
};

// Bug: these went into the append-only ledger, where nothing can be deleted.
TEST_F(Intake, SecretsAndPeopleNeverReachTheLedger) {
  for (const char* text : {"PIN 4711, unlock code 0815", "password hunter2, dark", "Anna's phone",
                           "12 Main Street, flat 4", "tel 2345678", "anna at example.org", "dob 1984-03-12",
                           "serial R5CT10ABCDE", "192.168.1.34", "dark\u202e"}) {
    const auto r = intake({"--fault-text", text, "--repair", "display-swap"});
    EXPECT_EQ(r.code, 2) << text;
    EXPECT_EQ((r.out + r.err).find(text), std::string::npos) << "the text is repeated: " << r.out << r.err;
  }
  EXPECT_EQ(
      intake({"--fault", "screen-dark", "--repair", "display-swap", "--part", "hinge@R5CT10ABCDE"}).code, 2);
  EXPECT_EQ(entries(), 0U);
}

TEST_F(Intake, KeepsTheWordsOfTheListAndFreeTextBesideThem) {
  const auto r =
      intake({"--fault", "screen-dark", "--fault", "hinge-stiff", "--fault-text", "only when it is cold",
              "--repair", "display-swap", "--part", "display-assembly@lot-7", "--colour", "mint"});
  ASSERT_EQ(r.code, 0) << r.out << r.err;
  const auto list = run({handback(), "--json", "--home", t / "home", "ledger", "list"}, 60).out;
  EXPECT_EQ(entries(), 1U) << list;
  const auto exported = t / "e.json";
  ASSERT_EQ(run({handback(), "--home", t / "home", "ledger", "export", "--out", exported}, 60).code, 0);
  const auto entry = nlohmann::json::parse(slurp(exported))["entries"][0];
  // The texts lie beside the signed bytes, each [salt, member, value] in base64url.
  std::string job;
  for (const auto piece : split(entry["disclosures"].get_ref<const std::string&>(), '~'))
    if (const auto text = from_base64url(piece)) job += as_text(*text);
  EXPECT_NE(job.find("screen dark; hinge stiff; only when it is cold"), std::string::npos) << job;
  EXPECT_NE(job.find("display assembly"), std::string::npos) << job;
  EXPECT_NE(job.find("LOT-7"), std::string::npos) << job;
}

TEST_F(Intake, AFaultThatIsOnNoListNamesTheNearestAndTheWayOut) {
  const auto r = intake({"--fault", "hinge is so stiff", "--repair", "display-swap"});
  EXPECT_EQ(r.code, 2);
  const auto said = r.out + r.err;
  EXPECT_NE(said.find("hinge-stiff"), std::string::npos) << said;
  EXPECT_NE(said.find("--fault-text"), std::string::npos) << said;
  const auto list = intake({"--list-faults"});
  ASSERT_EQ(list.code, 0);
  EXPECT_GE(list.json()["faults"].size(), 25U);
  for (const char* other : {"--list-repairs", "--list-parts", "--list-colours"})
    EXPECT_EQ(intake({other}).code, 0);
}
}  // namespace
}  // namespace hb::test
