// Bug: three limited measures stood on the customer's page as names of the program, others with units like
// "cycles/px", and reasons that every run over USB meets were told in English on a German sheet.
#include <filesystem>
#include <fstream>
#include <regex>
#include <set>

#include "checks/registry.hpp"
#include "programs.hpp"
#include "samples.hpp"

namespace hb::sheet {
namespace {
nlohmann::json record_of(const nlohmann::json& check) {
  return {{"run", {{"clock", "wall"}}}, {"outcome", check["outcome"]}, {"checks", {check}}};
}

/// The table's row of the only check, without mark-up.
std::string row(const nlohmann::json& record, const char* language) {
  SheetInputs in = inputs();
  in.language = language;
  const auto html = customer_html(record, in);
  EXPECT_TRUE(html);
  const auto from = html->find("<tr class=\"is-"), to = html->find("</table>", from);
  return std::regex_replace(html->substr(from, to - from), std::regex("<svg.*?</svg>|<[^>]*>"), " ");
}
std::string remarks(const nlohmann::json& record, const char* language) {
  SheetInputs in = inputs();
  in.language = language;
  const auto html = customer_html(record, in);
  EXPECT_TRUE(html);
  const auto from = html->find("<section class=\"says\""), to = html->find("</section>", from);
  return html->substr(from, to - from);
}

/// A verdict that fails at its upper or its lower limit.
nlohmann::json failing(const std::string& key, const std::string& unit, double value, bool above) {
  return {{"key", key},
          {"part", ""},
          {"value", value},
          {"u", 0.01},
          {"unit", unit},
          {"n", 3},
          {"outcome", "fail"},
          {"lower", above ? nlohmann::json() : nlohmann::json(value + 1)},
          {"upper", above ? nlohmann::json(value - 1) : nlohmann::json()}};
}

TEST(PlainWords, EveryQuantityThatAProfileMayLimitHasThemInEachLanguage) {
  std::size_t keys = 0;
  const std::regex latin("[A-Za-z]{3,}"), left_over("_|cycles|cpp|dpt|dE00|mohm|degC|/min");
  const std::set<std::string> same_everywhere{"SIM", "lux", "dBm", "NFC", "Mbit"};
  for (const auto& check : checks::all_checks())
    for (const auto& key : check->limit_keys())
      for (const bool above : {true, false}) {
        ++keys;
        const nlohmann::json record =
            record_of({{"id", check->info().id.str()},
                       {"customer_title", "*"},
                       {"outcome", "fail"},
                       {"verdicts", {failing(key.str(), "1", above ? 3 : 0.2, above)}}});
        for (const char* language : {"en", "de", "ar"}) {
          const std::string told = row(record, language);
          EXPECT_FALSE(std::regex_search(told, left_over)) << key.str() << ": " << told;
          if (language != std::string("ar")) continue;
          // What an Arabic row says in Latin letters is a name that nobody translated.
          for (std::sregex_iterator it(told.begin(), told.end(), latin), end; it != end; ++it)
            EXPECT_TRUE(same_everywhere.contains(it->str())) << key.str() << ": " << told;
        }
      }
  EXPECT_GT(keys, 200U);
}

TEST(PlainWords, UnitsAreThoseOfEverydayOrAreLeftOut) {
  struct Case {
    const char *key, *unit, *says;
    double value;
    bool above;
  };
  const Case cases[] = {
      {"cameras.mtf50_centre_cpp", "cycles/px", "Sharpness in the middle 0.14, at least 1.1 wanted.", 0.14,
       false},
      {"cameras.white_delta_e00", "dE00", "Colour cast on white 7.5, at most 6.5 allowed.", 7.5, true},
      {"cameras.focus_px_per_dpt", "px/dpt", "Movement of the focus 0.50, at least 1.5 wanted.", 0.5, false},
      {"wireless_charging.temp_slope_c_per_min", "K/min",
       "Warming while charging on the pad 2.5\u00A0°C a minute, at most 1.5\u00A0°C a minute allowed.", 2.5,
       true},
      {"motion.gyro_bias_deg_s", "deg/s",
       "Turn reported at rest 3.5° a second, at most 2.5° a second allowed.", 3.5, true},
      {"touch_grid.jitter_mm", "mm",
       "trembling of a finger&#39;s place 1.5\u00A0mm, at most 0.50\u00A0mm allowed.", 1.5, true},
      {"touch_grid.report_rate_hz", "Hz", "touch reports a second 60, at least 61 wanted.", 60, false},
      {"hinge_sweep.monotone_residual_deg", "deg",
       "Angle running back while the hinge moves on 2.5°, at most 1.5° allowed.", 2.5, true}};
  for (const auto& c : cases) {
    const std::string id = std::string(c.key).substr(0, std::string(c.key).find('.'));
    const std::string told = row(record_of({{"id", id},
                                            {"customer_title", "T"},
                                            {"outcome", "fail"},
                                            {"verdicts", {failing(c.key, c.unit, c.value, c.above)}}}),
                                 "en");
    EXPECT_NE(told.find(c.says), std::string::npos) << c.key << ": " << told;
  }
}

/// All C++ of a folder, adjacent literals joined.
std::string sources(const std::string& folder) {
  std::string all;
  for (const auto& e : std::filesystem::recursive_directory_iterator(HB_SOURCE_DIR + folder))
    if (e.path().extension() == ".cpp") all += slurped(e.path().string());
  all = std::regex_replace(all, std::regex("//[^\n]*"), "");
  return std::regex_replace(all, std::regex("\"\\s*\n\\s*\""), "");
}
std::set<std::string> matches(const std::string& text, const std::string& pattern) {
  std::set<std::string> found;
  const std::regex r(pattern);
  for (std::sregex_iterator it(text.begin(), text.end(), r), end; it != end; ++it)
    found.insert((*it)[1].str());
  return found;
}

/// No remark of the translated sheet may hold the English text.
std::vector<std::string> untold(const std::set<std::string>& texts,
                                nlohmann::json (*record)(const std::string& text)) {
  std::vector<std::string> found;
  for (const auto& text : texts)
    for (const char* language : {"de", "ar"}) {
      std::string html = remarks(record(text), language);
      html = std::regex_replace(html, std::regex("&#39;"), "'");
      const std::string tail = text.substr(1);  // its first letter may have become a capital
      if (html.find(tail) != std::string::npos) found.push_back(std::string(language) + ": " + text);
    }
  return found;
}

TEST(PlainWords, EveryReasonOfAnUntestedCheckIsTranslated) {
  // What an Error of these codes says while a check acquires or measures becomes its reason.
  const std::string all = sources("/checks") + sources("/harness/page") + sources("/harness/phone");
  auto reasons =
      matches(all, "ErrorCode::(?:unsupported|timed_out|refused|not_found),\\s*\"([a-z][^\"]{12,})\"");
  reasons.merge(matches(all, "(?:not_tested|unsupported|untested|refused)\\(\\s*\"([a-z][^\"]{12,})\""));
  // Of the profile's own mistakes and of this program's, no sheet is made.
  const std::regex of_no_sheet(
      "^the profile |\\[\\[|^this phone does not offer |as large|a sweep outside|a take of frames|more or "
      "fewer "
      "fields|serial|^the browser has no such|^another .* profile");
  for (auto it = reasons.begin(); it != reasons.end();)
    it = std::regex_search(*it, of_no_sheet) ? reasons.erase(it) : std::next(it);
  EXPECT_GT(reasons.size(), 50U);
  const auto missing = untold(reasons, [](const std::string& text) {
    return record_of({{"id", "keys"}, {"customer_title", "*"}, {"outcome", "not tested"}, {"reason", text}});
  });
  EXPECT_TRUE(missing.empty()) << testing::PrintToString(missing);
}

TEST(PlainWords, EveryFindingIsTranslated) {
  // A finding: its id, what was seen, what to open again.
  auto says = matches(sources("/checks"), "\"[a-z]+(?:_[a-z0-9]+)+\",\\s*\"([A-Z][^\"]{12,}\\.)\",\\s*\"");
  EXPECT_GT(says.size(), 55U);
  const auto missing = untold(says, [](const std::string& text) {
    return record_of({{"id", "keys"},
                      {"customer_title", "*"},
                      {"outcome", "fail"},
                      {"findings", {{{"id", "x"}, {"says", text}, {"open_again", ""}, {"part", ""}}}}});
  });
  EXPECT_TRUE(missing.empty()) << testing::PrintToString(missing);
}

TEST(PlainWords, AReasonThatNamesAMeasureIsToldInItsWords) {
  const auto record = record_of(
      {{"id", "hinge_sweep"},
       {"customer_title", "*"},
       {"outcome", "not tested"},
       {"reason",
        "a measure that the profile limits could not be taken: hinge_sweep.monotone_residual_deg"}});
  EXPECT_NE(remarks(record, "en").find("One of the values could not be measured: angle running back"),
            std::string::npos)
      << remarks(record, "en");
  EXPECT_EQ(remarks(record, "ar").find("hinge_sweep"), std::string::npos);
}

TEST(PlainWords, OverACableTheOwnerReadsWhyTwoTestsAreMissing) {
  for (const auto& [reason, says] :
       {std::pair{"the link is by the cable that this check has to unplug: run over TCP",
                  "The phone was tested through its cable, which this test has to unplug."},
        std::pair{
            "the link is by cable, and a phone with a cable in does not charge from the pad: run over TCP",
            "with a cable in it does not charge without one."}}) {
    const auto record = record_of(
        {{"id", "wired_port"}, {"customer_title", "*"}, {"outcome", "not tested"}, {"reason", reason}});
    EXPECT_NE(sources("/checks").find(reason), std::string::npos) << "nobody says: " << reason;
    EXPECT_NE(remarks(record, "en").find(says), std::string::npos) << remarks(record, "en");
    for (const char* language : {"de", "ar"})
      EXPECT_EQ(remarks(record, language).find("TCP"), std::string::npos) << language;
  }
}
}  // namespace
}  // namespace hb::sheet
