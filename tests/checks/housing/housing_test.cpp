// The housing as a technician would answer for it.
#include "checks/housing/housing.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;

Housing::Config config() {
  Housing::Config c;
  c.screws = {{Term("bottom"), 2}};
  c.covers = {{Term("back"), true}, {Term("hinge cap"), false}};
  return c;
}

using Answers = std::map<Inspection, double>;
const Answers kGood{{Inspection::screws, 2},
                    {Inspection::widest_gap, 0.1},
                    {Inspection::seated, 1},
                    {Inspection::colour_agreed, 1},
                    {Inspection::new_adhesive, 1}};

Result<Housing::Capture> answered(const Answers& back, std::vector<std::string>* asked = nullptr) {
  Bench b;
  b.hands.on_observe = [&](const Question& q) -> Result<double> {
    if (asked != nullptr) asked->push_back(name(q.inspection).str() + " " + q.part.str());
    return (q.part.str() == "hinge cap" ? kGood : back).at(q.inspection);
  };
  return fakes::run(Housing{}.acquire(b.context, config()));
}

std::vector<Limit> limits() {
  const auto o = LimitOrigin::common_practice;
  return {{"housing.observed_screws_missing", {}, {}, 0.0, o},
          {"housing.observed_gap_mm", {}, {}, 0.2, o},
          {"housing.observed_seated", {}, 1.0, {}, o},
          {"housing.observed_colour_agreed", {}, 1.0, {}, o},
          {"housing.observed_new_adhesive", {}, 1.0, {}, o}};
}

struct Row {
  const char* name;
  Inspection inspection;
  double answer;
  Outcome outcome;
  std::vector<std::string> named;
};
class HousingTable : public testing::TestWithParam<Row> {};
TEST_P(HousingTable, IsJudgedAndNamed) {
  Answers a = kGood;
  a[GetParam().inspection] = GetParam().answer;
  const auto c = answered(a);
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_EQ(nlohmann::json(*c).get<Housing::Capture>(), *c) << "the journal keeps all of it";
  const auto r = fakes::judge<Housing>(*c, config(), limits());
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::named(r->findings), GetParam().named);
  for (const auto& v : r->verdicts)
    EXPECT_TRUE(v.measure.key.view().starts_with("housing.observed_")) << "said to be observed, not measured";
}
INSTANTIATE_TEST_SUITE_P(
    Situations, HousingTable,
    testing::Values(
        Row{"good", Inspection::screws, 2, Outcome::pass, {}},
        Row{"a_screw_forgotten", Inspection::screws, 1, Outcome::fail, {"screws_missing bottom"}},
        Row{"a_screw_too_many", Inspection::screws, 3, Outcome::fail, {"screws_missing bottom"}},
        Row{"a_gap", Inspection::widest_gap, 0.4, Outcome::fail, {"cover_gap back"}},
        Row{"a_gap_at_the_limit", Inspection::widest_gap, 0.2, Outcome::marginal, {"cover_gap back"}},
        Row{"not_flush", Inspection::seated, 0, Outcome::fail, {"cover_not_seated back"}},
        Row{"another_colour", Inspection::colour_agreed, 0, Outcome::fail, {"colour_differs back"}},
        Row{"old_adhesive", Inspection::new_adhesive, 0, Outcome::fail, {"adhesive_not_renewed back"}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(HousingAcquire, AsksEachThingOnceAndNoAdhesiveWhereThereIsNone) {
  std::vector<std::string> asked;
  ASSERT_TRUE(answered(kGood, &asked));
  EXPECT_THAT(asked, testing::ElementsAre("screws bottom", "widest_gap back", "seated back",
                                          "colour_agreed back", "new_adhesive back", "widest_gap hinge cap",
                                          "seated hinge cap", "colour_agreed hinge cap"));
}

TEST(HousingAcquire, WithNobodyToAskItIsNotTested) {
  Bench b;
  EXPECT_EQ(fakes::run(Housing{}.acquire(b.context, config())).error().code, ErrorCode::unsupported);
}

TEST(HousingMeasure, AnAnswerThatCannotBeIsRefused) {
  for (const auto& [sight, answer] : Answers{{Inspection::screws, 1.5},
                                             {Inspection::widest_gap, -1},
                                             {Inspection::seated, 0.5},
                                             {Inspection::colour_agreed, std::nan("")}}) {
    Answers a = kGood;
    a[sight] = answer;
    EXPECT_EQ(Housing::measure(answered(a).value(), config()).error().code, ErrorCode::bad_format);
  }
  auto c = answered(kGood).value();
  c.answers.pop_back();
  EXPECT_EQ(Housing::measure(c, config()).error().code, ErrorCode::bad_format);
}
}  // namespace
}  // namespace hb::checks
