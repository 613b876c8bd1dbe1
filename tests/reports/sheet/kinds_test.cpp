// Bug: an intake sheet spoke of fresh adhesive and parts fitted, of a phone that nobody had opened yet. And
// what a sheet says of runs that go on from another, of erased words, and of withdrawn runs.
#include <array>

#include "programs.hpp"
#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {
constexpr const char* kLanguages[] = {"en", "de", "ar"};

nlohmann::json of_kind(const char* kind) {
  nlohmann::json r = sample("petal_pass");
  r["run"]["kind"] = kind;
  r["job"]["fault"] = "touch dead along the fold; free words of the shop";
  r["job"]["repair"] = "display-hinge swap";
  r["job"]["colour"] = "graphite";
  r["job"]["parts"] = {{{"name", "display-hinge assembly"}, {"lot", "DH-1"}},
                       {{"name", "own name"}, {"lot", ""}}};
  return r;
}
std::string html_of(const nlohmann::json& r, const char* language = "en", const Standing& standing = {}) {
  SheetInputs in = inputs();
  in.language = language;
  in.standing = standing;
  return customer_html(r, in).value();
}
std::string pdf_text(const nlohmann::json& r, const char* language = "en", const Standing& standing = {}) {
  SheetInputs in = inputs();
  in.language = language;
  in.standing = standing;
  const OnDisk disk(customer_pdf(r, in).value());
  return flat(run("pdftotext -raw " + disk.path("sheet.pdf") + " -").out);
}

TEST(Kinds, APhoneAsItCameHasNoNewPartsAndNoFreshAdhesive) {
  const std::array<std::vector<const char*>, 3> new_things{
      std::vector{"adhesive", "fitted", "cure", "after the repair", "giving it back"},
      std::vector{"Kleber", "Eingebaut", "Aushärten", "Rückgabe"},
      std::vector{"اللاصق", "القطع المركّبة", "إعادته إليك"}};
  for (std::size_t i = 0; i < 3; ++i)
    for (const char* kind : {"intake", "comeback"}) {
      const std::string html = html_of(of_kind(kind), kLanguages[i]);
      // The page's script and words for it are not shown.
      for (const char* thing : new_things[i])
        EXPECT_EQ(html.substr(0, html.find("<script")).find(thing), std::string::npos)
            << kind << " " << kLanguages[i] << ": " << thing;
      const std::string release = html_of(of_kind("release"), kLanguages[i]);
      EXPECT_NE(release.find(new_things[i][0]), std::string::npos) << "the word is the one that is used";
    }
}

TEST(Kinds, EachHasItsOwnTitleAndSentences) {
  const std::string intake = html_of(of_kind("intake")), back = html_of(of_kind("comeback")),
                    release = html_of(of_kind("release"));
  EXPECT_NE(intake.find("How your phone was when you brought it in"), std::string::npos);
  EXPECT_NE(intake.find("Everything that we tested worked."), std::string::npos);
  EXPECT_NE(intake.find("compare it with the sheet that you get at the end"), std::string::npos);
  EXPECT_NE(back.find("How your phone was when it came back to us"), std::string::npos);
  EXPECT_NE(back.find("compare it with the sheet of the first time"), std::string::npos);
  EXPECT_NE(release.find("What we tested on your phone before giving it back"), std::string::npos);
  EXPECT_NE(release.find("Fresh adhesive"), std::string::npos);
  for (const char* language : {"de", "ar"})
    EXPECT_NE(html_of(of_kind("intake"), language)
                  .find("<h1>" + std::string(language == std::string("de")
                                                 ? "Wie Ihr Telefon war, als Sie es gebracht haben"
                                                 : "كيف كان هاتفك عندما أحضرته")),
              std::string::npos);
}

TEST(Kinds, AnIntakeWithoutFreshAdhesiveIsNotToldAsAForgottenOne) {
  nlohmann::json r = of_kind("intake");
  r["checks"] = {{{"id", "housing"},
                  {"customer_title", "Housing"},
                  {"outcome", "fail"},
                  {"verdicts",
                   {{{"key", "housing.observed_new_adhesive"},
                     {"part", "back cover"},
                     {"value", 0},
                     {"u", 0},
                     {"unit", "1"},
                     {"n", 1},
                     {"outcome", "fail"},
                     {"lower", 1},
                     {"upper", nullptr}}}},
                  {"findings",
                   {{{"id", "adhesive_not_renewed"},
                     {"says", "The technician said that no new adhesive was used under this cover."},
                     {"open_again", ""},
                     {"part", "back cover"}}}}}};
  const std::string html = html_of(r);
  EXPECT_EQ(html.find("no new adhesive"), std::string::npos);
  EXPECT_NE(html.find("the adhesive under a cover is not fresh"), std::string::npos);
}

TEST(Kinds, WordsOfTheCatalogueAreTranslatedAndFreeTextIsShownAsGiven) {
  const std::string de = html_of(of_kind("release"), "de");
  EXPECT_EQ(de.find("<small>display-hinge swap"), std::string::npos);
  EXPECT_EQ(de.find(">display-hinge assembly<"), std::string::npos);
  EXPECT_EQ(de.find(">graphite<"), std::string::npos);
  EXPECT_NE(de.find(">own name<"), std::string::npos);
  const std::string told = html_of(of_kind("intake"), "de");
  EXPECT_EQ(told.find(">touch dead along the fold"), std::string::npos);
  EXPECT_NE(told.find("; free words of the shop</b>"), std::string::npos);
}

TEST(Kinds, ARunThatGoesOnFromAnotherSaysSoAndDatesWhatItTookFromThere) {
  nlohmann::json r = of_kind("release");
  r["run"]["follows"] = {{"run", "01J00000000000000000000000"}, {"opened", {"rear-cover", "hinge-sensor"}}};
  r["run"]["other_phone"] = "main-board-replaced";
  r["checks"][0]["taken"] = {{"run", "01J00000000000000000000000"}, {"at", "2026-11-22T09:00:00Z"}};
  r["checks"][1]["taken"] = {{"run", r["run"]["id"]}, {"at", r["run"]["finished"]}};
  for (const std::string& text : {flat(html_of(r)), pdf_text(r)}) {
    EXPECT_NE(text.find("opened again: rear cover and hinge sensor or its flex."), std::string::npos) << text;
    EXPECT_NE(text.find("Measured on 22 November 2026."), std::string::npos);
    EXPECT_EQ(occurrences(text, "Measured on"), 1U) << "what is of this run needs no date";
    EXPECT_NE(text.find("for this reason: the main board was replaced, and with it the serial number."),
              std::string::npos);
  }
  for (const char* language : {"de", "ar"})
    for (const char* english : {"rear cover", "main board was", "Measured"})
      EXPECT_EQ(html_of(r, language).find(english), std::string::npos) << language << english;
  const std::string shop = shop_html(r).value();
  for (const char* says : {"Taken from run 01J00000000000000000000000",
                           "rear cover, hinge sensor or its flex", "Another phone than the job"})
    EXPECT_NE(shop.find(says), std::string::npos) << says;
}

TEST(Kinds, TheShopRecordNamesAClockThatRanBackwardsAndWhatTheCustomerAgreedToLeaveOut) {
  nlohmann::json r = of_kind("release");
  r["run"]["clock_back_s"] = 7200;
  r["job"]["waivers"] = {{{"check", "cameras"}, {"reason", "customer-declined"}}};
  const std::string shop = shop_html(r).value();
  EXPECT_NE(shop.find("The clock ran backwards by 120\u00A0min"), std::string::npos);
  EXPECT_NE(shop.find("cameras: the customer did not want this test"), std::string::npos);
}

TEST(Kinds, AWaivedCoreCheckIsNotComplete) {
  nlohmann::json r = of_kind("release");
  r["outcome"] = "not tested";
  r["checks"][4]["outcome"] = "waived";
  r["checks"][4]["reason"] = "the customer did not want this test";
  for (const std::string& text : {flat(html_of(r)), pdf_text(r)}) {
    EXPECT_NE(text.find("Not complete: something important was left out as agreed."), std::string::npos);
    EXPECT_EQ(text.find("Passed, with"), std::string::npos);
    EXPECT_EQ(text.find("All tests passed"), std::string::npos);
  }
  r["outcome"] = "waived";  // of a check that is no core one
  EXPECT_NE(html_of(r).find("Passed, with something left out as agreed."), std::string::npos);
}

TEST(Kinds, WhatWasErasedIsShownAsErased) {
  nlohmann::json r = of_kind("release");
  for (const char* member : {"fault", "colour", "repair"}) r["job"].erase(member);
  r["job"]["parts"][0] = {{"lot", "DH-1"}};
  r["job"]["parts"][0].erase("lot");
  for (const char* language : kLanguages) {
    const std::string html = html_of(r, language);
    EXPECT_GE(occurrences(html, language == std::string("en")   ? "erased"
                                : language == std::string("de") ? "gelöscht"
                                                                : "مُسح"),
              3U)
        << language;
  }
  EXPECT_EQ(occurrences(shop_html(r).value(), "<dd>erased"), 4U);
  // An empty text is not an erased one.
  r = of_kind("release");
  r["job"]["colour"] = "";
  EXPECT_EQ(html_of(r).find("erased"), std::string::npos);
  r["job"].erase("parts");
  EXPECT_NE(html_of(r).find("erased"), std::string::npos);
}

TEST(Kinds, AWithdrawnRunSaysSoBeforeAllElse) {
  const Standing gone{"wrong job", "2026-11-26T08:00:00Z"};
  const std::string html = flat(html_of(of_kind("release"), "en", gone));
  const auto at =
      html.find("WITHDRAWN by the shop on 26 November 2026: wrong job. Do not rely on this sheet.");
  ASSERT_NE(at, std::string::npos);
  EXPECT_LT(at, html.find("<h1>"));
  EXPECT_EQ(html.find("All tests passed"), std::string::npos);
  EXPECT_NE(html.find("This sheet no longer holds."), std::string::npos);
  EXPECT_NE(pdf_text(of_kind("release"), "de", gone).find("ZURÜCKGEZOGEN von der Werkstatt"),
            std::string::npos);
  EXPECT_NE(flat(shop_html(of_kind("release"), gone).value()).find("WITHDRAWN on 26 November 2026"),
            std::string::npos);
  EXPECT_EQ(html_of(of_kind("release")).find("WITHDRAWN"), std::string::npos);
}

TEST(Kinds, APersonWithoutTheProgramLearnsHowToCheck) {
  const std::string html = flat(html_of(of_kind("release"))), pdf = pdf_text(of_kind("release"));
  for (const std::string& text : {html, pdf}) {
    EXPECT_NE(text.find("Open the file sheet.html in a browser: it checks itself"), std::string::npos);
    EXPECT_NE(text.find("kPrK _qmx VWaY VA9w"), std::string::npos);
  }
  EXPECT_NE(html.find("compare the shop&#39;s key below"), std::string::npos);
  EXPECT_NE(pdf.find("compare the shop's key below"), std::string::npos);
}
}  // namespace
}  // namespace hb::sheet
