// One page whatever the job, the paper and the language; and nothing told by colour alone.
// HB_SHEET_SHOTS names a folder for grey pictures of the pages, for a person to look at.
#include <cmath>
#include <regex>
#include <set>

#include "programs.hpp"
#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {

class Longest : public testing::TestWithParam<std::tuple<const char*, Paper>> {};
INSTANTIATE_TEST_SUITE_P(Job, Longest,
                         testing::Combine(testing::Values("en", "de", "ar"),
                                          testing::Values(Paper::a4, Paper::letter)),
                         [](const auto& one) {
                           return std::string(std::get<0>(one.param)) +
                                  (std::get<1>(one.param) == Paper::a4 ? "_a4" : "_letter");
                         });

/// 12 checks with long texts and no good news, 24 parts with long names.
nlohmann::json longest_job() {
  nlohmann::json r = sample("crowded");
  const nlohmann::json parts = r["job"]["parts"];
  for (int i = 0; i < 2; ++i)
    for (const auto& p : parts) r["job"]["parts"].push_back(p);
  return r;
}

TEST_P(Longest, IsOnePageInsideItsMarginsAndItsCodeIsRead) {
  NEED("qpdf");
  NEED("pdftotext");
  NEED("pdftoppm");
  NEED("zbarimg");
  const auto [language, paper] = GetParam();
  SheetInputs in = SealedSample("crowded").in;
  in.language = language;
  in.paper = paper;
  const nlohmann::json record = longest_job();
  ASSERT_EQ(record["checks"].size(), 12U);
  ASSERT_EQ(record["job"]["parts"].size(), 24U);
  const auto pdf = customer_pdf(record, in);
  ASSERT_TRUE(pdf) << pdf.error().message();
  const OnDisk disk(*pdf);
  const Ran checked = run("qpdf --check " + disk.path("sheet.pdf"));
  EXPECT_EQ(checked.status, 0) << checked.out;
  EXPECT_EQ(run("qpdf --show-npages " + disk.path("sheet.pdf")).out, "1\n");
  const double w = paper == Paper::a4 ? 595.276 : 612, h = paper == Paper::a4 ? 841.89 : 792;
  const auto words = word_boxes(disk);
  for (const auto& box : words)
    EXPECT_TRUE(box.x0 >= 28 && box.x1 <= w - 28 && box.y0 >= 18 && box.y1 <= h - 18) << box.line;
  EXPECT_GT(words.size(), 250U);
  // No check is lost: every row's mark of a result is there as a word.
  SheetInputs plain = in;
  const std::string html = customer_html(record, plain).value();
  EXPECT_EQ(occurrences(html, "<tr class=\"is-"), 12U);
  ASSERT_EQ(run("pdftoppm -r 200 -gray -png -singlefile " + disk.path("sheet.pdf") + " " + disk.path("page"))
                .status,
            0);
  EXPECT_EQ(run("zbarimg -q --raw " + disk.path("page.png"), " 2>/dev/null").out, in.qr_text + "\n");
  if (const char* folder = std::getenv("HB_SHEET_SHOTS"))
    std::filesystem::copy_file(
        disk.path("page.png"),
        std::string(folder) + "/longest-" + language + (paper == Paper::a4 ? "-a4.png" : "-letter.png"),
        std::filesystem::copy_options::overwrite_existing);
}

/// All results of one table: the crowded sample has every one of the five.
std::map<std::string, std::string> badges(const std::string& html) {
  std::map<std::string, std::string> found;
  const std::regex badge("<tr class=\"is-([a-z]+)\">.*?<span class=\"badge [a-z]+\">(.*?)</span></span>");
  for (std::sregex_iterator it(html.begin(), html.end(), badge), end; it != end; ++it)
    found[(*it)[1].str()] = (*it)[2].str();
  return found;
}

TEST(BlackAndWhite, EachResultHasAShapeAndAWordOfItsOwn) {
  for (const char* language : {"en", "de", "ar"}) {
    SheetInputs in = inputs();
    in.language = language;
    const auto all = badges(customer_html(sample("crowded"), in).value());
    ASSERT_EQ(all.size(), 5U) << language;
    std::set<std::string> shapes, words;
    for (const auto& [outcome, badge] : all) {
      const auto end = badge.find("</svg>");
      ASSERT_NE(end, std::string::npos);
      const std::string svg = std::regex_replace(badge.substr(0, end), std::regex("#[0-9a-f]{6}"), "#000000");
      shapes.insert(svg);
      words.insert(badge.substr(end));
    }
    EXPECT_EQ(shapes.size(), 5U) << language << ": two results look alike without colour";
    EXPECT_EQ(words.size(), 5U) << language << ": two results have one word";
  }
}

TEST(BlackAndWhite, LinesOfOnePictureDifferByTheirDashes) {
  const std::string html = customer_html(sample("petal_pass"), inputs()).value();
  const std::regex line(
      "<polyline points=\"[^\"]*\" fill=\"none\" stroke=\"(#[0-9a-f]{6})\" stroke-width=\"1.1\"([^/]*)/>");
  std::size_t pictures = 0;
  for (auto at = html.find("<figure"); at != std::string::npos; at = html.find("<figure", at + 1)) {
    const std::string figure = html.substr(at, html.find("</figure>", at) - at);
    std::map<std::string, std::string> dash_of;  // colour -> dashes
    std::set<std::string> dashes;
    for (std::sregex_iterator it(figure.begin(), figure.end(), line), end; it != end; ++it) {
      dash_of[(*it)[1].str()] = (*it)[2].str();
      dashes.insert((*it)[2].str());
    }
    pictures += dash_of.size() > 1;
    EXPECT_EQ(dashes.size(), dash_of.size()) << figure.substr(0, 120);
  }
  EXPECT_GE(pictures, 4U) << "batteries and three cameras have two lines each";
}

/// WCAG 2.1, 1.4.3: relative luminance and contrast of #rrggbb.
double luminance(const std::string& colour) {
  const auto channel = [&](int at) {
    const double c = std::stoi(colour.substr(static_cast<std::size_t>(at), 2), nullptr, 16) / 255.0;
    return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
}
double contrast(const std::string& a, const std::string& b) {
  const double x = luminance(a), y = luminance(b);
  return (std::max(x, y) + 0.05) / (std::min(x, y) + 0.05);
}

TEST(BlackAndWhite, TextStandsOutFromItsGroundByLightnessAlone) {
  ASSERT_NEAR(contrast("#000000", "#ffffff"), 21, 1e-9);
  const std::string html = customer_html(sample("petal_pass"), inputs()).value();
  std::map<std::string, std::string> colour;
  const std::regex variable("--([a-z-]+):(#[0-9a-f]{6})");
  for (std::sregex_iterator it(html.begin(), html.end(), variable), end; it != end; ++it)
    colour[(*it)[1].str()] = (*it)[2].str();
  for (const char* name : {"pass", "marginal", "fail", "untested", "waived"}) {
    const std::string tint = name + std::string("-t");
    ASSERT_TRUE(colour.contains(name) && colour.contains(tint)) << name;
    EXPECT_GE(contrast(colour[name], colour[tint]), 4.5) << name;
    EXPECT_GE(contrast(colour[name], "#ffffff"), 4.5) << name;
    EXPECT_GE(contrast(colour["ink"], colour[tint]), 7) << name;
    EXPECT_GE(contrast(colour["soft"], colour[tint]), 4.5) << name;
  }
  EXPECT_GE(contrast(colour["soft"], colour["sand"]), 4.5);
  // The touch map: fields that answered, and those that did not.
  const std::string dead = customer_html(sample("petal_fold_dead"), inputs()).value();
  const auto at = dead.find("id=\"picture0-t\"");
  const std::string map = dead.substr(at, dead.find("</svg>", at) - at);
  ASSERT_NE(map.find("#bfd9d6"), std::string::npos);
  ASSERT_NE(map.find("#1b2830"), std::string::npos);
  EXPECT_GE(contrast("#bfd9d6", "#1b2830"), 7);
}
}  // namespace
}  // namespace hb::sheet
