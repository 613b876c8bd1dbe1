// The whole way, from a ledger of 300 made-up jobs to the numbers, held against R's survival package on the
// same export: against recorded values always, and against R itself where it is installed.
#include <gtest/gtest.h>
#include <stdio.h>

#include <cmath>
#include <fstream>
#include <sstream>

#include "harness/base/text.hpp"
#include "reports/comebacks/comebacks.hpp"
#include "tests/reports/ledger/history.hpp"
#include "tools/demo_history/demo_history.hpp"

namespace hb::comebacks {
namespace {
using namespace testing_support;

constexpr const char* kRecorded = HB_SOURCE_DIR "/tests/reference/comebacks_300_seed_7.tsv";
constexpr const char* kRecordedCsv = HB_SOURCE_DIR "/tests/reference/comebacks_300_seed_7.csv";
constexpr const char* kScript = HB_SOURCE_DIR "/tests/reference/km.R";

const Study& demo_study() {
  static const Study study = [] {
    const TempFolder dir;
    auto l = ledger::Ledger::open(dir / "l.db", ledger_key(), fixed_time()).value();
    const auto r = demo::seed_demo_history(l, 300, 7);
    if (!r) throw std::runtime_error(r.error().message());
    if (!l.verify(ledger_ring())->sound()) throw std::runtime_error("the made-up ledger does not verify");
    return collect(l, demo::kHistoryEnd, ledger_ring()).value();
  }();
  return study;
}

/// Equal to 6 digits; "NA" and "NaN" stand for what is not defined.
void expect_equal(const std::optional<double>& ours, std::string_view theirs, const std::string& what) {
  const auto v = to_double(trim(theirs));
  if (!v) {
    EXPECT_FALSE(ours) << what;
    return;
  }
  ASSERT_TRUE(ours) << what;
  EXPECT_NEAR(*ours, *v, 1e-6 * std::max(1e-3, std::abs(*v))) << what;
}

/// `text`: what km.R prints.
void compare_with(const Comparison& c, const std::string& text) {
  std::map<std::string, std::pair<const Group*, std::size_t>> groups;  // and the next row of its curve
  for (std::size_t i = 0; i < c.groups.size(); ++i) groups[c.groups[i].name] = {&c.groups[i], 0};
  std::size_t rows = 0, tests = 0, sums = 0;
  for (const auto line : lines(text)) {
    const auto f = split(line, '\t');
    if (f[0] == "logrank") {
      ASSERT_EQ(f.size(), 4U);
      ++tests;
      expect_equal(c.test.chi_square, f[1], "chi-square");
      EXPECT_EQ(std::to_string(c.test.df), f[2]);
      expect_equal(c.test.p, f[3], "p");
      continue;
    }
    if (f[0] != "km" && f[0] != "median" && f[0] != "group") continue;
    const std::string what(line);
    const auto it = groups.find(std::string(f[1]));
    ASSERT_NE(it, groups.end()) << what;
    auto& [g, next] = it->second;
    if (f[0] == "km") {
      ASSERT_EQ(f.size(), 9U);
      ASSERT_LT(next, g->curve.size()) << what;
      const KmRow& r = g->curve[next++];
      ++rows;
      expect_equal(r.time, f[2], what);
      EXPECT_EQ(std::to_string(r.at_risk), f[3]) << what;
      EXPECT_EQ(std::to_string(r.events), f[4]) << what;
      expect_equal(r.survival, f[5], what);
      expect_equal(r.se, f[6], what);
      expect_equal(r.lower, f[7], what);
      expect_equal(r.upper, f[8], what);
    } else if (f[0] == "median") {
      expect_equal(g->median_days.time, f[2], what);
      expect_equal(g->median_days.lower, f[3], what);
      expect_equal(g->median_days.upper, f[4], what);
    } else {
      const auto index = static_cast<std::size_t>(g - c.groups.data());
      ++sums;
      expect_equal(c.test.observed[index], f[2], what);
      expect_equal(c.test.expected[index], f[3], what);
    }
  }
  for (const auto& [name, g] : groups) EXPECT_EQ(g.second, g.first->curve.size()) << name;
  EXPECT_GT(rows, 20U);
  EXPECT_EQ(tests, 1U);
  EXPECT_EQ(sums, c.groups.size());
}

std::string output_of(const std::string& command) {
  std::string out;
  FILE* p = ::popen(command.c_str(), "r");
  if (p == nullptr) return out;
  char buffer[4096];
  for (std::size_t n = 0; (n = ::fread(buffer, 1, sizeof buffer, p)) > 0;) out.append(buffer, n);
  return ::pclose(p) == 0 ? out : std::string();
}

std::string contents(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::stringstream s;
  s << in.rdbuf();
  return s.str();
}

TEST(ComebackReference, AgreesWithTheRecordedValuesOfR) {
  const auto c = compare(demo_study(), By::lot);
  const auto csv = to_csv(c);
  const std::string now = HB_BINARY_DIR "/comebacks_300_seed_7.csv";
  if (csv != contents(kRecordedCsv)) std::ofstream(now, std::ios::binary) << csv;
  ASSERT_EQ(csv, contents(kRecordedCsv)) << "The made-up history has changed. If that is meant: copy " << now
                                         << " over the recorded one and run km.R on it again.";
  compare_with(c, contents(kRecorded));
}

TEST(ComebackReference, AgreesWithRItself) {
  for (const By by : {By::lot, By::model}) {
    const TempFolder dir;
    const auto c = compare(demo_study(), by);
    std::ofstream(dir / "audit.csv") << to_csv(c);
    const auto out = output_of(std::string("Rscript '") + kScript + "' '" + (dir / "audit.csv").string() +
                               "' 2>/dev/null");
    if (out.empty() && output_of("Rscript -e 'library(survival); cat(1)' 2>/dev/null").empty())
      GTEST_SKIP() << "R with its survival package is not installed";
    compare_with(c, out);
  }
}

TEST(DemoHistory, IsTheSamePastForTheSameSeedAndShowsItsBadLot) {
  const auto c = compare(demo_study(), By::lot);
  ASSERT_EQ(c.part, "display-hinge assembly");
  ASSERT_FALSE(c.few);
  EXPECT_LT(c.test.p, 1e-4);
  const Group* worst = &c.groups.front();
  for (const auto& g : c.groups)
    if (!g.few() && g.rate.rate > worst->rate.rate) worst = &g;
  EXPECT_EQ(worst->name, "LOT-25A1");
  const auto s = signs(demo_study());
  EXPECT_GT(s.failed_at_return.at("hinge_sweep"), s.comebacks / 2);
  EXPECT_EQ(demo_study().odd_dates, 0);
  EXPECT_NE(render(demo_study(), c, s).find("Log-rank test"), std::string::npos);
}

}  // namespace
}  // namespace hb::comebacks
