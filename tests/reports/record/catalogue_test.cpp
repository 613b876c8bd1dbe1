#include "reports/record/catalogue.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <set>
#include <sstream>

namespace hb::record {
namespace {
constexpr Catalogue kAll[] = {Catalogue::faults, Catalogue::repairs, Catalogue::parts, Catalogue::colours};

TEST(JobCatalogue, EveryEntryIsFoundByIdAndByWordsAndPassesTheScreen) {
  for (const auto which : kAll) {
    std::set<std::string_view> ids, words;
    for (const auto& e : catalogue(which)) {
      EXPECT_TRUE(ids.insert(e.id.view()).second && words.insert(e.words.view()).second) << e.id.view();
      EXPECT_EQ(find(which, e.id.view()), &e);
      EXPECT_EQ(find(which, e.words.view()), &e);
      EXPECT_EQ(e.id.view().find_first_not_of("abcdefghijklmnopqrstuvwxyz-"), std::string_view::npos);
      EXPECT_EQ(e.words.view().find(kBetween), std::string_view::npos);
      EXPECT_TRUE(personal_reason(e.words.view()).empty()) << e.words.view();
    }
  }
  EXPECT_EQ(find(Catalogue::faults, " Hinge STIFF ")->id.view(), "hinge-stiff");
  EXPECT_EQ(find(Catalogue::faults, "stiff"), nullptr);
}

TEST(JobCatalogue, TheTranslationsKnowEveryEntryAndNoOther) {
  std::set<std::string> listed, wanted;
  std::ifstream in(HB_SOURCE_DIR "/reports/sheet/po/record-texts.txt");
  for (std::string line; std::getline(in, line);)
    for (const auto which : kAll)
      if (line.starts_with(sense(which).str() + "|")) listed.insert(line);
  for (const auto which : kAll)
    for (const auto& e : catalogue(which)) wanted.insert(sense(which).str() + "|" + e.words.str());
  EXPECT_EQ(listed, wanted);
}

TEST(JobCatalogue, SuggestsWhatMayHaveBeenMeant) {
  EXPECT_EQ(suggestions(Catalogue::faults, "hinge-stif").front(), "hinge-stiff");
  EXPECT_EQ(suggestions(Catalogue::faults, "wireless charging does not work").front(),
            "wireless-charging-fails");
  const auto crease = suggestions(Catalogue::faults, "the crease got deeper");
  ASSERT_FALSE(crease.empty());
  EXPECT_EQ(crease.front(), "crease-worse");
  EXPECT_TRUE(suggestions(Catalogue::faults, "qqqq zzzz vvvv kkkk xxxx").empty());
}

TEST(JobCatalogue, ATextIsTakenApartAsItWasPutTogether) {
  EXPECT_EQ(pieces("screen dark; hinge stiff"),
            (std::vector<std::string_view>{"screen dark", "hinge stiff"}));
  EXPECT_EQ(pieces("a;b"), (std::vector<std::string_view>{"a;b"}));
  EXPECT_EQ(pieces(""), (std::vector<std::string_view>{""}));
}
}  // namespace
}  // namespace hb::record
