// The sheet in other languages: nothing is left untranslated, and an Arabic sheet is a sheet.
#include <algorithm>
#include <future>
#include <map>
#include <regex>
#include <set>

#include "programs.hpp"
#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {
const std::string kPo = std::string(HB_SOURCE_DIR) + "/reports/sheet/po/";

struct Message {
  std::string one, many;          ///< msgid, msgid_plural
  std::vector<std::string> says;  ///< msgstr, or one a plural form
};
/// A .po file as msgcat writes it unwrapped, by sense and msgid; the header is left out.
std::map<std::string, Message> messages(const std::string& file) {
  std::map<std::string, Message> all;
  std::istringstream lines(run("msgcat --no-wrap " + file, " 2>/dev/null").out);
  std::string sense;
  Message m;
  const auto done = [&] {
    if (!m.one.empty()) all[sense + "|" + m.one] = m;
    sense.clear();
    m = {};
  };
  for (std::string line; std::getline(lines, line);) {
    const auto from = line.find('"'), to = line.rfind('"');
    if (line.empty()) done();
    if (from == std::string::npos || to <= from || line[0] == '#') continue;
    const std::string text = line.substr(from + 1, to - from - 1);
    if (line.starts_with("msgctxt")) sense = text;
    if (line.starts_with("msgid ")) m.one = text;
    if (line.starts_with("msgid_plural")) m.many = text;
    if (line.starts_with("msgstr")) m.says.push_back(text);
  }
  done();
  return all;
}

std::set<std::string> fields(const std::string& text) {
  std::set<std::string> found;
  const std::regex field("\\{[^}]*\\}");
  for (std::sregex_iterator it(text.begin(), text.end(), field), end; it != end; ++it)
    found.insert(it->str());
  return found;
}

TEST(Translations, AreWholeAndTheirFieldsAgree) {
  NEED("xgettext");
  NEED("msgcat");
  const OnDisk disk("");
  const Ran made = run(kPo + "update --pot " + disk.path("sheet.pot"));
  ASSERT_EQ(made.status, 0) << made.out;
  const auto wanted = messages(disk.path("sheet.pot"));
  ASSERT_GT(wanted.size(), 300U);
  for (const char* code : {"de", "ar"}) {
    const auto have = messages(kPo + code + ".po");
    std::size_t translated = 0;
    for (const auto& [id, text] : wanted) {
      const auto it = have.find(id);
      ASSERT_TRUE(it != have.end() && !it->second.says.empty()) << code << " lacks: " << id;
      const auto& says = it->second.says;
      EXPECT_EQ(it->second.many, text.many) << id;
      if (!text.many.empty()) {
        EXPECT_EQ(says.size(), code == std::string("ar") ? 6U : 2U) << id;
      }
      for (const auto& s : says) {
        EXPECT_FALSE(s.empty()) << code << " is empty: " << id;
        const auto in = fields(s), all = fields(text.many.empty() ? text.one : text.many);
        // A form for one or two may leave the number to its words; no form may name another field.
        EXPECT_TRUE(std::includes(all.begin(), all.end(), in.begin(), in.end())) << code << ": " << id;
        if (text.many.empty() || &s == &says.back()) {
          EXPECT_EQ(in, all) << code << ": " << id;
        }
      }
      ++translated;
    }
    EXPECT_EQ(translated, wanted.size()) << code;
    EXPECT_EQ(have.size(), wanted.size()) << code << " holds texts that nobody says any more";
  }
}

TEST(Translations, OfTheRecordAreOfTextsThatChecksWrite) {
  std::string sources;
  for (const char* folder : {"/checks", "/harness", "/reports/record"})
    for (const auto& e : std::filesystem::recursive_directory_iterator(HB_SOURCE_DIR + std::string(folder)))
      if (e.path().extension() == ".cpp") sources += slurped(e.path().string());
  sources = std::regex_replace(sources, std::regex("\"\\s*\n\\s*\""), "");
  std::istringstream list(slurped(kPo + "record-texts.txt"));
  std::size_t seen = 0;
  for (std::string line; std::getline(list, line);) {
    if (!line.starts_with("record|")) continue;
    ++seen;
    EXPECT_NE(sources.find("\"" + line.substr(7) + "\""), std::string::npos) << "nobody writes: " << line;
  }
  EXPECT_GT(seen, 60U);
}

TEST(Languages, AreThoseOfTheCatalogues) {
  EXPECT_EQ(languages(), (std::vector<std::string>{"en", "ar", "de"}));
  SheetInputs in = inputs();
  in.language = "xx";
  for (const auto& r : {customer_html(sample("petal_pass"), in), customer_pdf(sample("petal_pass"), in)}) {
    ASSERT_FALSE(r);
    EXPECT_EQ(r.error().code, ErrorCode::invalid_argument);
    EXPECT_EQ(r.error().where, "language");
    EXPECT_NE(r.error().next.find("en, ar, de"), std::string::npos) << r.error().next;
  }
}

struct Spoken {
  const char *sample, *code;
  std::vector<const char*> says;
};
const std::vector<Spoken>& spoken() {
  static const std::vector<Spoken> rows{
      {"petal_pass",
       "de",
       {"Was wir an Ihrem Telefon vor der Rückgabe geprüft haben", "Alle Prüfungen bestanden.",
        "25. November 2026", "angenommen am 20. November 2026", "5 Prüfungen: 5 bestanden.",
        "alle 476 Felder haben reagiert", "Hauptakku hält 97 % der ursprünglichen Kapazität",
        "mit 1,7 A ohne", "3 Kameras (Weitwinkel, Ultraweitwinkel und Selfie)", "Vereinbarte Farbe",
        "handback verify"}},
      {"plank_untested", "de", {"Nicht vollständig", "Simulierte Vorführung"}},
      {"petal_fold_dead", "de", {"Innerer Bildschirm: 28 von 476 Feldern haben nicht reagiert"}},
      {"petal_pass",
       "ar",
       {"اجتاز الهاتف جميع الاختبارات.", "ما اختبرناه في هاتفك قبل إعادته إليك", "خصوصيتك", "القطع المركّبة",
        "Velmora Petal", "J-20261125-0001", "handback verify", "نوفمبر"}},
      {"petal_fold_dead", "ar", {"غير ناجح", "ماذا يعني ذلك"}}};
  return rows;
}

/// Without the marks that only steer the order of reading.
std::string unmarked(std::string s) {
  for (const std::string mark : {"\u2066", "\u2067", "\u2068", "\u2069", "\u200E", "\u200F", "\u202A",
                                 "\u202B", "\u202C", "\u202D", "\u202E"})
    for (auto at = s.find(mark); at != std::string::npos; at = s.find(mark, at)) s.erase(at, mark.size());
  return s;
}

/// What a reader of PDF text may differ in: white space, the place of vowel signs, and the two letters of the
/// lam-alef ligature, which the one glyph gives back in either order.
std::string letters(std::string s) {
  s = flat(unmarked(std::move(s)));
  std::erase(s, ' ');
  for (const std::string sign :
       {"\u064B", "\u064C", "\u064D", "\u064E", "\u064F", "\u0650", "\u0651", "\u0652"})
    for (auto at = s.find(sign); at != std::string::npos; at = s.find(sign, at)) s.erase(at, sign.size());
  const std::string lam = "\u0644";
  for (const std::string alef : {"\u0627", "\u0623", "\u0625", "\u0622"})
    for (auto at = s.find(lam + alef); at != std::string::npos; at = s.find(lam + alef))
      s.replace(at, lam.size() + alef.size(), alef + lam);
  return s;
}

TEST(Languages, APdfOpensAndGivesItsWordsBack) {
  NEED("pdftotext");
  NEED("qpdf");
  for (const auto& row : spoken())
    for (const Paper paper : {Paper::a4, Paper::letter}) {
      SheetInputs in = inputs();
      in.language = row.code;
      in.paper = paper;
      const auto pdf = customer_pdf(sample(row.sample), in);
      ASSERT_TRUE(pdf) << pdf.error().message();
      const OnDisk disk(*pdf);
      EXPECT_EQ(run("qpdf --check " + disk.path("sheet.pdf")).status, 0);
      EXPECT_EQ(run("qpdf --show-npages " + disk.path("sheet.pdf")).out, "1\n");
      std::string text;
      for (const char* how : {"", "-layout", "-raw"})
        text +=
            letters(run(std::string("pdftotext ") + how + " " + disk.path("sheet.pdf") + " -").out) + "\n";
      for (const char* says : row.says)
        EXPECT_NE(text.find(letters(says)), std::string::npos)
            << row.code << " " << row.sample << ": " << says;
    }
}

TEST(Languages, ThePageSaysWhichOneItIsAndWhereItStarts) {
  for (const auto& row : spoken()) {
    SheetInputs in = inputs();
    in.language = row.code;
    const auto html = customer_html(sample(row.sample), in);
    ASSERT_TRUE(html);
    const bool rtl = row.code == std::string("ar");
    EXPECT_EQ(occurrences(*html, rtl ? "<html lang=\"ar\" dir=\"rtl\">" : "<html lang=\"de\">"), 1U);
    const std::string text = flat(unmarked(*html));
    for (const char* says : row.says) EXPECT_NE(text.find(says), std::string::npos) << says;
    EXPECT_EQ(occurrences(text, "All tests passed") + occurrences(text, "What was tested"), 0U);
  }
}

TEST(Languages, NumbersFollowTheLanguagesOwnPluralRule) {
  const auto says = [](std::size_t checks, const char* language) {
    nlohmann::json r = sample("petal_pass");
    const nlohmann::json one = r["checks"][1];
    r["checks"] = nlohmann::json::array();
    for (std::size_t i = 0; i < checks; ++i) r["checks"].push_back(one);
    SheetInputs in = inputs();
    in.language = language;
    const std::string html = customer_html(r, in).value();
    const auto from = html.find("<p>", html.find("class=\"verdict")) + 3;
    return html.substr(from, html.find("</p>", from) - from);
  };
  EXPECT_EQ(says(1, "de"), "1 Prüfung: 1 bestanden.");
  EXPECT_EQ(says(5, "de"), "5 Prüfungen: 5 bestanden.");
  // CLDR's plural classes of Arabic: two, few (3 to 10), many (11 to 99), other.
  EXPECT_TRUE(says(2, "ar").starts_with("فحصان")) << says(2, "ar");
  EXPECT_TRUE(says(5, "ar").starts_with("5 فحوص:")) << says(5, "ar");
  EXPECT_TRUE(says(12, "ar").starts_with("12 فحصًا")) << says(12, "ar");
  EXPECT_TRUE(says(100, "ar").starts_with("100 فحص:")) << says(100, "ar");
}

TEST(Languages, AnEnglishSentenceInsideAnotherDirectionKeepsItsCapitalAndItsFullStop) {
  SheetInputs in = inputs();
  in.language = "ar";
  const std::string dead = customer_html(sample("petal_fold_dead"), in).value(),
                    full = customer_html(sample("plank_untested"), in).value();
  EXPECT_NE(dead.find("\u2068A band across the whole width at the fold does not answer.\u2069 "),
            std::string::npos);
  EXPECT_NE(dead.find("\u206631\u00A0°C\u2069."), std::string::npos) << "a figure at the end is no sentence";
  EXPECT_NE(full.find("\u2068The battery is full: the charging current cannot be judged.\u2069<"),
            std::string::npos);
}

TEST(Languages, AtTheSameTimeDoNotDisturbEachOther) {
  const nlohmann::json record = sample("petal_pass");
  const auto write = [&record](const char* language) {
    SheetInputs in = inputs();
    in.language = language;
    return customer_html(record, in).value();
  };
  const std::string de = write("de"), ar = write("ar"), en = write("en");
  const auto again = [&](const char* language, const std::string& alone) {
    for (int i = 0; i < 12; ++i)
      if (write(language) != alone) return false;
    return true;
  };
  auto a = std::async(std::launch::async, again, "de", de),
       b = std::async(std::launch::async, again, "ar", ar),
       c = std::async(std::launch::async, again, "en", en);
  EXPECT_TRUE(a.get() && b.get() && c.get());
}

TEST(Languages, TheShopAndTheTerminalStayAsTheyAre) {
  EXPECT_NE(shop_html(sample("petal_pass")).value().find("<html lang=\"en\">"), std::string::npos);
}
}  // namespace
}  // namespace hb::sheet
