// Checks run side by side where nothing is shared: the bench is quicker, and the numbers are the same.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <sstream>

#include "harness/base/encoding.hpp"
#include "whole.hpp"

namespace hb::test {
namespace {
using nlohmann::json;

struct Entry {
  double from = 0, to = 0;
};
std::map<std::string, Entry> journal_of(const std::filesystem::path& folder) {
  std::map<std::string, Entry> out;
  for (const auto& [file, bytes] : all_files(folder)) {
    if (file.extension() != ".jsonl") continue;
    std::istringstream lines(bytes);
    for (std::string l; std::getline(lines, l);) {
      const auto j = json::parse(l);
      if (!j.contains("capture")) continue;
      const double from = j["from_s"];
      out[j["check"]] = {from, from + j["bench_seconds"].get<double>()};
    }
  }
  return out;
}
/// What a compact JWS carries (RFC 7515, section 7.1).
json payload_of(const std::string& jws) {
  const auto first = jws.find('.');
  const auto second = jws.find('.', first + 1);
  const auto bytes = from_base64url(std::string_view(jws).substr(first + 1, second - first - 1));
  return bytes ? json::parse(bytes->begin(), bytes->end(), nullptr, false) : json();
}
bool overlap(const Entry& a, const Entry& b) { return a.from < b.to && b.from < a.to; }

class SideBySide : public testing::TestWithParam<const char*> {};

TEST_P(SideBySide, TheBenchTakesLittleMoreThanTheBoundAndNoExcludedPairOverlaps) {
  TempFolder t;
  const auto r = demo(t / "out", {"--model", GetParam()});
  ASSERT_EQ(r.code, 0) << r.out << r.err;
  const auto j = r.json();
  const double taken = j["bench_seconds"], least = j["bench_seconds_least"],
               row = j["bench_seconds_in_a_row"];
  EXPECT_GT(least, 60);
  EXPECT_LE(taken, 1.05 * least);
  EXPECT_GE(row, taken + 20) << "nothing was gained";
  const auto spans = journal_of(t.path());
  EXPECT_TRUE(overlap(spans.at("batteries"), spans.at("motion")));
  // What changes the phone's draw never runs while the batteries are measured.
  for (const auto& [id, span] : spans)
    EXPECT_EQ(overlap(spans.at("batteries"), span),
              id == "batteries" || id == "motion" || id == "radios" || id == "housing")
        << id;
  // Hands do one thing at a time.
  for (const auto& [a, sa] : spans)
    for (const auto& [b, sb] : spans)
      EXPECT_FALSE(a < b && a != "batteries" && b != "batteries" && overlap(sa, sb)) << a << " and " << b;
}
INSTANTIATE_TEST_SUITE_P(Models, SideBySide, testing::Values("petal", "plank"));

TEST(SideBySide, TheNumbersAreThoseOfChecksOneAfterAnother) {
  TempFolder t;
  json records[2];
  double taken = 0;
  for (int i = 0; i < 2; ++i) {
    const auto r = demo(t / std::to_string(i),
                        i == 0 ? std::vector<std::string>{} : std::vector<std::string>{"--one-at-a-time"});
    ASSERT_EQ(r.code, 0) << r.out << r.err;
    const auto j = r.json();
    EXPECT_EQ(j["bench_seconds"] == j["bench_seconds_in_a_row"], i == 1);
    if (i == 0) taken = j["bench_seconds"];
    EXPECT_LE(taken, 1.05 * j["bench_seconds_least"].get<double>())
        << "also against the bound of checks that nothing ran beside";
    records[i] = payload_of(slurp(j["record"].get<std::string>()));
  }
  int compared = 0;
  for (std::size_t c = 0; c < records[0]["checks"].size(); ++c) {
    const auto& a = records[0]["checks"][c]["verdicts"];
    const auto& b = records[1]["checks"][c]["verdicts"];
    ASSERT_EQ(a.size(), b.size());
    for (std::size_t v = 0; v < a.size(); ++v) {
      const auto &x = a[v], &y = b[v];
      ASSERT_EQ(x["key"], y["key"]);
      if (x["outcome"].is_null()) continue;  // counts that nothing is judged by
      const double u = std::hypot(x["u"].get<double>(), y["u"].get<double>());
      EXPECT_LE(std::abs(x["value"].get<double>() - y["value"].get<double>()), 4 * u + 1e-9)
          << x << " and " << y;
      ++compared;
    }
  }
  EXPECT_GT(compared, 100);
}
}  // namespace
}  // namespace hb::test
