// Each fault of the stand-in fails exactly the check that it should, and the diagnosis names it.
#include <gtest/gtest.h>

#include <set>

#include "whole.hpp"

namespace hb::test {
namespace {

struct Row {
  std::string fault, model, check, finding;
};

/// The table comes from the stand-in itself; it is read when the tests are listed.
std::vector<Row> rows() {
  std::vector<Row> out;
  const auto r = run({standin(), "--list-faults", "--json"}, 20);
  const auto j = r.json();
  if (!j.is_array()) return out;
  for (const auto& f : j) {
    if (f.value("check", "").empty() || f.value("finding", "").empty()) continue;
    for (const auto& m : f["models"]) out.push_back({f["name"], m, f["check"], f["finding"]});
  }
  return out;
}

class Fault : public testing::TestWithParam<Row> {};

TEST_P(Fault, FailsExactlyItsCheckAndIsNamed) {
  const auto& row = GetParam();
  TempFolder t;
  const auto r = demo(t / "out", {"--model", row.model, "--fault", row.fault, "--seed", "11"});
  ASSERT_EQ(r.code, 1) << r.out << r.err;
  for (const auto& c : r.json()["checks"]) {
    if (c["id"] == row.check) {
      EXPECT_EQ(c["outcome"], "fail");
      EXPECT_NE(std::find(c["findings"].begin(), c["findings"].end(), row.finding), c["findings"].end()) << c;
    } else if (row.finding == "safety_stop" && c["outcome"] == "not tested") {
      EXPECT_NE(c["reason"].get<std::string>().find("safety"), std::string::npos) << c;
    } else {
      EXPECT_EQ(c["outcome"], "pass") << c;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Table, Fault, testing::ValuesIn(rows()), [](const auto& p) {
  std::string n = p.param.model + "_" + p.param.fault;
  for (auto& c : n)
    if (!std::isalnum(static_cast<unsigned char>(c))) c = '_';
  return n;
});

TEST(FaultTable, NamesAtLeastSixteenFaultsOverAllChecks) {
  std::set<std::string> faults, checks;
  for (const auto& r : rows()) faults.insert(r.fault), checks.insert(r.check);
  EXPECT_GE(faults.size(), 16u);
  EXPECT_EQ(checks.size(), 14u);
}
}  // namespace
}  // namespace hb::test
