// The HTML faces: self-contained, well formed, escaped, marked once.
#include <set>
#include <vector>

#include "harness/base/encoding.hpp"
#include "samples.hpp"

namespace hb::sheet {
namespace {

/// Names the first tag that is not closed in its order; empty when all are. Void elements and the content of
/// style and script are known (HTML Living Standard, 13.1.2).
std::string unbalanced(const std::string& html) {
  const std::set<std::string> empty{"meta", "br", "link", "img", "input"};
  std::vector<std::string> open;
  for (std::size_t i = html.find('<'); i != std::string::npos; i = html.find('<', i)) {
    const auto end = html.find('>', i);
    if (end == std::string::npos) return "<";
    const std::string tag = html.substr(i + 1, end - i - 1);
    i = end;
    if (tag.starts_with('!') || tag.ends_with('/')) continue;
    const std::string name = tag.substr(tag.starts_with('/') ? 1 : 0, tag.find(' '));
    if (tag.starts_with('/')) {
      if (open.empty() || open.back() != name) return tag;
      open.pop_back();
    } else if (!empty.contains(name)) {
      open.push_back(name);
      if (name == "style" || name == "script") i = html.find("</" + name, i);
    }
  }
  return open.empty() ? "" : open.back();
}

class Html : public testing::TestWithParam<const char*> {};
INSTANTIATE_TEST_SUITE_P(Samples, Html,
                         testing::Values("petal_pass", "petal_fold_dead", "plank_untested", "crowded"),
                         [](const auto& param_info) { return std::string(param_info.param); });

TEST_P(Html, BothFacesAreWellFormedAndFetchNothing) {
  const auto customer = customer_html(sample(GetParam()), inputs());
  const auto shop = shop_html(sample(GetParam()));
  ASSERT_TRUE(customer && shop);
  for (const std::string& html : {*customer, *shop}) {
    EXPECT_EQ(unbalanced(html), "");
    for (const char* outside :
         {"http:", "https:", "src=", "href=", "@import", "url(", "<link", "<iframe", "<img"})
      EXPECT_EQ(occurrences(html, outside), 0U) << outside;
    EXPECT_NE(html.find("<html lang=\"en\">"), std::string::npos);
    EXPECT_NE(html.find("<main>"), std::string::npos);
    EXPECT_EQ(occurrences(html, "<h1"), 1U);
    EXPECT_EQ(occurrences(html, "role=\"img\""), occurrences(html, "<title id="));
    std::set<std::string> ids;
    for (auto at = html.find(" id=\""); at != std::string::npos; at = html.find(" id=\"", at + 1)) {
      const std::string id = html.substr(at + 5, html.find('"', at + 5) - at - 5);
      EXPECT_TRUE(ids.insert(id).second) << "twice: " << id;
    }
  }
}

TEST(CustomerHtml, CarriesTheRecordAndTheSlotOnceInInertElements) {
  const SheetInputs in = inputs();
  const auto html = customer_html(sample("petal_pass"), in);
  ASSERT_TRUE(html);
  EXPECT_EQ(occurrences(*html, "handback-record:[" + in.record_jws + "]"), 1U);
  EXPECT_EQ(occurrences(*html, "handback-record:["), 1U);
  EXPECT_EQ(occurrences(*html, in.seal_slot), 1U);
  EXPECT_EQ(occurrences(*html, "handback-seal:["), 1U);
  EXPECT_EQ(occurrences(*html, "<script type=\"application/"), 4U) << "record, seal, key, words: data only";
  EXPECT_EQ(occurrences(*html, "<script"), 5U) << "and the one that runs";
}

TEST(CustomerHtml, LetsOnlyItsOwnScriptRun) {
  const auto html = customer_html(sample("petal_pass"), inputs());
  ASSERT_TRUE(html);
  const auto from = html->find("<script>") + 8, to = html->find("</script>", from);
  const std::string hash = base64(sha256(as_bytes(html->substr(from, to - from))));
  EXPECT_NE(html->find("default-src &#39;none&#39;; style-src &#39;unsafe-inline&#39;; script-src "
                       "&#39;sha256-" +
                       hash + "&#39;\""),
            std::string::npos);
  SheetInputs keyless = inputs();
  keyless.key_jwk.clear();
  const auto still = customer_html(sample("petal_pass"), keyless);
  ASSERT_TRUE(still);
  EXPECT_EQ(occurrences(*still, "script-src") + occurrences(*still, "<script>"), 0U);
}

TEST(CustomerHtml, HostileShopTextStaysText) {
  for (const std::string text :
       {"<script>alert(1)</script>", "\"'><svg onload=x>", "handback-seal:[x]handback-record:[y]",
        "&lt;b&gt;", "\xff\xfe bad", "line\nbreak\u202Ereversed"}) {
    nlohmann::json r = sample("crowded");
    spoil(r, text);
    const auto html = customer_html(r, inputs());
    const auto shop = shop_html(r);
    ASSERT_TRUE(html && shop) << text;
    EXPECT_EQ(unbalanced(*html), "") << text;
    EXPECT_EQ(occurrences(*html, "<script>"), 1U) << text;
    EXPECT_EQ(occurrences(*shop, "<script"), 0U) << text;
    EXPECT_EQ(occurrences(*html + *shop, "<svg onload"), 0U);
    EXPECT_EQ(occurrences(*html, "handback-seal:[") + occurrences(*shop, "handback-seal:["), 1U) << text;
    EXPECT_EQ(occurrences(*html + *shop, "\u202E"), 0U);
    EXPECT_EQ(occurrences(*html + *shop, "\xff"), 0U);
  }
}

TEST(CustomerHtml, OverallResultIsNeverBetterThanItsChecks) {
  nlohmann::json r = sample("petal_pass");
  r["checks"][3]["outcome"] = "fail";  // while "outcome" still says pass
  const auto html = customer_html(r, inputs());
  ASSERT_TRUE(html);
  EXPECT_EQ(html->find("All tests passed"), std::string::npos);
  EXPECT_NE(html->find("Did not pass"), std::string::npos);
  r["checks"] = nlohmann::json::array();
  r["outcome"] = "pass";
  EXPECT_EQ(customer_html(r, inputs())->find("All tests passed"), std::string::npos)
      << "no checks is no pass";
}

TEST(CustomerHtml, RefusesInputsThatCouldBreakOut) {
  struct Row {
    const char *name, *where;
    void (*spoil)(SheetInputs&);
  };
  const Row rows[] = {
      {"record closes the element", "record_jws", [](SheetInputs& in) { in.record_jws = "a</script>b"; }},
      {"no record", "record_jws", [](SheetInputs& in) { in.record_jws.clear(); }},
      {"slot of another name", "seal_slot", [](SheetInputs& in) { in.seal_slot = "seal:[...]"; }},
      {"slot with a line break", "seal_slot",
       [](SheetInputs& in) { in.seal_slot = "handback-seal:[..\n..]"; }},
      {"key closes the element", "key_jwk", [](SheetInputs& in) { in.key_jwk.replace(40, 9, "</script>"); }},
      {"key with a secret", "key_jwk", [](SheetInputs& in) { in.key_jwk.insert(1, "\"d\":\"x\","); }},
      {"no QR text", "qr_text", [](SheetInputs& in) { in.qr_text.clear(); }},
      {"QR text too long to read", "qr_text", [](SheetInputs& in) { in.qr_text.assign(5000, 'x'); }}};
  for (const auto& row : rows) {
    SheetInputs in = inputs();
    row.spoil(in);
    for (const auto& r : {customer_html(sample("petal_pass"), in), customer_pdf(sample("petal_pass"), in)}) {
      ASSERT_FALSE(r) << row.name;
      EXPECT_EQ(r.error().code, ErrorCode::invalid_argument) << row.name;
      EXPECT_EQ(r.error().where, row.where) << row.name;
    }
  }
}

TEST(ShopHtml, ShowsEveryMeasureAndFindingWithItsEvidence) {
  const nlohmann::json r = sample("petal_fold_dead");
  const auto html = shop_html(r);
  ASSERT_TRUE(html);
  std::size_t measures = 0;
  for (const auto& c : r["checks"]) measures += c["verdicts"].size();
  EXPECT_EQ(occurrences(*html, "<th scope=\"row\">"), measures);
  for (const char* part :
       {"Reseat the display flex", "fold_flex_pinched", "touch_grid.dead_region_cells (inner) = 28, n = 476",
        "95.0 \u00B1 2.4\u00A0mΩ", "0.95 \u2026 1.05", "2 tries", "learned", "Camera selfie: sharpness"})
    EXPECT_NE(html->find(part), std::string::npos) << part;
}

TEST(Faces, AreTotalOverTornRecords) {
  // Each member of a record in turn is removed, or becomes something else; no face may fail or crash.
  const nlohmann::json whole = sample("plank_untested").flatten();
  std::size_t step = 0;
  for (const auto& [path, value] : whole.items()) {
    if (path.find("/values/") != std::string::npos || ++step % 7 != 0) continue;
    for (const nlohmann::json& other :
         {nlohmann::json(), nlohmann::json("x"), nlohmann::json(-1e300), nlohmann::json::array({1})}) {
      nlohmann::json r = sample("plank_untested");
      r[nlohmann::json::json_pointer(path)] = other;
      EXPECT_TRUE(shop_html(r)) << path;
      EXPECT_FALSE(text_summary(r, false).empty()) << path;
    }
  }
  for (const nlohmann::json& no :
       {nlohmann::json(), nlohmann::json::array(), nlohmann::json{{"checks", 3}}}) {
    EXPECT_EQ(customer_html(no, inputs()).error().code, ErrorCode::bad_format);
    EXPECT_EQ(shop_html(no).error().code, ErrorCode::bad_format);
    EXPECT_EQ(occurrences(text_summary(no, true), "\n"), 1U);
  }
}
}  // namespace
}  // namespace hb::sheet
