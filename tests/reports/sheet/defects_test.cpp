// The map of what was marked on a screen, as the shop's record draws it: where, and as what.
#include <regex>

#include "samples.hpp"

namespace hb::sheet {
namespace {

nlohmann::json series(const char* name, std::vector<double> values) {
  return {{"name", name}, {"unit", "mm"}, {"values", values}};
}
/// A panel of 70 x 140 mm, its fold in the middle, and a fault a row.
nlohmann::json panel(std::vector<double> kind, std::vector<double> x, std::vector<double> y) {
  const std::vector<double> sides(kind.size(), 10.0);
  const nlohmann::json map{{"kind", "defect_map"},
                           {"part", "inner"},
                           {"cols", 0},
                           {"rows", 0},
                           {"series",
                            {series("size", {70, 140}), series("fold", {65, 75}), series("kind", kind),
                             series("x", x), series("y", y), series("w", sides), series("h", sides)}}};
  const nlohmann::json check{{"id", "panel"},
                             {"title", "Panel"},
                             {"customer_title", "Picture"},
                             {"outcome", "fail"},
                             {"verdicts", nlohmann::json::array()},
                             {"findings", nlohmann::json::array()},
                             {"plots", {map}}};
  return {{"run", {{"clock", "wall"}}}, {"outcome", "fail"}, {"checks", {check}}};
}

std::string picture(const nlohmann::json& record) {
  const std::string html = shop_html(record).value();
  const auto title = html.find("Faults seen on the screens");
  if (title == std::string::npos) return {};
  const auto from = html.find("<svg", title);
  return html.substr(from, html.find("</svg>", from) - from);
}

/// Numbers of the first shape that the pattern fits.
std::vector<double> shape(const std::string& svg, const char* pattern) {
  std::smatch m;
  std::vector<double> v;
  if (std::regex_search(svg, m, std::regex(pattern)))
    for (std::size_t i = 1; i < m.size(); ++i) v.push_back(std::stod(m[i].str()));
  return v;
}
constexpr const char* kOutline =
    "<rect x=\"([0-9.]+)\" y=\"([0-9.]+)\" width=\"([0-9.]+)\" height=\"([0-9.]+)\" rx=\"2\" fill=\"none\" "
    "stroke=\"#1b2830\"";

TEST(DefectMap, FaultsStandWhereTheyWereMarkedAndAsWhat) {
  const std::string svg = picture(panel({0, 1, 2, 3, 4}, {17.5, 52.5, 35, 0, 14}, {35, 105, 0, 70, 126}));
  auto o = shape(svg, kOutline);
  ASSERT_EQ(o.size(), 4U) << svg;
  o = {o[0] + 1.2, o[1] + 1.2, o[2] - 2.4, o[3] - 2.4};  // the line runs outside the panel
  EXPECT_NEAR(o[3] / o[2], 2, 0.01) << "one scale both ways";
  struct Row {
    const char* name;
    const char* pattern;
    double x, y;  // fractions of the panel
  };
  const Row rows[] = {
      {"a bright dot is a ring", "<circle cx=\"([0-9.]+)\" cy=\"([0-9.]+)\" r=\"2.2\" fill=\"#ffffff\"", 0.25,
       0.25},
      {"a dark dot is a disc", "<circle cx=\"([0-9.]+)\" cy=\"([0-9.]+)\" r=\"2.2\" fill=\"#1b2830\"", 0.75,
       0.75},
      {"a column from top to bottom", "<polyline points=\"([0-9.]+),([0-9.]+) [^\"]*\"[^>]*#9c2a1f", 0.5, 0},
      {"the fold's band", "<rect x=\"([0-9.]+)\" y=\"([0-9.]+)\"[^>]*#bfd9d6", 0, 65.0 / 140},
      {"a patch is a dashed box, 10 mm wide",
       "<rect x=\"([0-9.]+)\" y=\"([0-9.]+)\"[^>]*#9c2a1f[^>]*stroke-dasharray", 9.0 / 70, 121.0 / 140}};
  for (const Row& row : rows) {
    const auto at = shape(svg, row.pattern);
    ASSERT_EQ(at.size(), 2U) << row.name << "\n" << svg;
    EXPECT_NEAR((at[0] - o[0]) / o[2], row.x, 0.005) << row.name;
    EXPECT_NEAR((at[1] - o[1]) / o[3], row.y, 0.005) << row.name;
  }
  EXPECT_NE(svg.find("5 faults marked"), std::string::npos);
  for (const char* word : {">bright dots<", ">dark dots<", ">lines<", ">spots<"})
    EXPECT_EQ(occurrences(svg, word), 1U) << word;
}

TEST(DefectMap, TheLegendNamesOnlyWhatIsThereAndNothingMarkedIsNoPicture) {
  const std::string dark = picture(panel({1, 1}, {10, 20}, {10, 20}));
  EXPECT_EQ(occurrences(dark, ">dark dots<"), 1U);
  for (const char* word : {">bright dots<", ">lines<", ">spots<"}) EXPECT_EQ(occurrences(dark, word), 0U);
  EXPECT_EQ(picture(panel({}, {}, {})), "");
}
}  // namespace
}  // namespace hb::sheet
