// A profile with a mistake names file, line, key and what was expected.
#include "profiles/profiles.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "harness/net/asio.hpp"

namespace hb::profiles {
namespace {
using checks::KeyType;

class ToyCheck final : public checks::AnyCheck {
 public:
  checks::CheckInfo info() const override { return {"toy", "Toy", "Toy", {}, std::chrono::seconds(1), ""}; }
  std::vector<checks::SectionSpec> sections() const override {
    return {{"spring",
             false,
             {{"rate_n_per_mm", KeyType::number, "the spring's rate", true, 0.1, 50},
              {"turns", KeyType::integer, "turns", false, 1, 99}}},
            {"leaf",
             true,
             {{"widths_mm", KeyType::numbers, "widths", true, 0, 100},
              {"painted", KeyType::boolean, "paint", false}}}};
  }
  std::vector<Term> limit_keys() const override { return {"toy.force_n", "toy.travel_mm"}; }
  Result<void> try_configure(const checks::Sections& s) const override {
    if (s.named("leaf").size() > 2) return Error{ErrorCode::bad_format, "at most two leaves", "leaf", ""};
    return {};
  }
  net::awaitable<Result<nlohmann::json>> acquire(checks::Context&, const checks::Sections&) const override {
    co_return Error{ErrorCode::unsupported, "", "", ""};
  }
  Result<checks::CheckResult> judge(const nlohmann::json&, const checks::Sections&,
                                    std::span<const checks::Limit>) const override {
    return checks::CheckResult{};
  }
};

std::vector<std::unique_ptr<checks::AnyCheck>> toys() {
  std::vector<std::unique_ptr<checks::AnyCheck>> v;
  v.push_back(std::make_unique<ToyCheck>());
  return v;
}

const std::string kGood = R"([phone]
name = "Toy Phone"
device = "toy"
model = "T-1"
checks = ["toy"]
[spring]
rate_n_per_mm = 2
[[leaf]]
name = "left"
widths_mm = [1, 2.5]
[[limit]]
measure = "toy.force_n"
part = "left"
upper = 3.5
origin = "maker"
)";

TEST(Profiles, AGoodProfileIsReadWithUnitsAndOrigin) {
  const auto known = toys();
  auto l = load_text(kGood, "good.toml", known);
  ASSERT_TRUE(l.problems.empty()) << l.problems.front().message();
  EXPECT_EQ(l.profile->name.str(), "Toy Phone");
  EXPECT_EQ(l.profile->sections.one("spring")->number("rate_n_per_mm"), 2.0);
  EXPECT_EQ(l.profile->sections.named("leaf")[0]->numbers("widths_mm"), (std::vector<double>{1, 2.5}));
  ASSERT_EQ(l.profile->limits.size(), 1u);
  EXPECT_EQ(l.profile->limits[0].upper, 3.5);
  EXPECT_EQ(l.profile->limits[0].origin, checks::LimitOrigin::maker_figure);
  EXPECT_EQ(l.profile->sha256.size(), 64u);
}

TEST(Profiles, WhatAPartDisturbsIsReadAndAPartThatIsNotNamedStaysOut) {
  const auto known = toys();
  const auto l = load_text(kGood + "[disturbs]\nspeaker = [\"toy\"]\n", "good.toml", known);
  ASSERT_TRUE(l.problems.empty()) << l.problems.front().message();
  ASSERT_EQ(l.profile->disturbs.size(), 1u);
  EXPECT_TRUE(l.profile->disturbs.at("speaker").contains("toy"));
}

struct Mistake {
  const char* name;
  const char* from;  ///< replaced in the good profile
  const char* to;
  const char* where;  ///< must stand in the problem's place
  const char* hint;   ///< must stand in the message
};

class ProfileMistake : public testing::TestWithParam<Mistake> {};

TEST_P(ProfileMistake, NamesFileLineKeyAndExpectation) {
  const auto& m = GetParam();
  std::string text = kGood;
  const auto at = text.find(m.from);
  ASSERT_NE(at, std::string::npos);
  text.replace(at, std::string_view(m.from).size(), m.to);
  const auto known = toys();
  const auto l = load_text(text, "bad.toml", known);
  EXPECT_FALSE(l.profile);
  bool found = false;
  std::string all;
  for (const auto& p : l.problems) {
    all += p.message() + "\n";
    found = found ||
            (p.where.find(m.where) != std::string::npos && p.message().find(m.hint) != std::string::npos);
  }
  EXPECT_TRUE(found) << all;
}

INSTANTIATE_TEST_SUITE_P(
    Table, ProfileMistake,
    testing::Values(
        Mistake{"TypoInKey", "rate_n_per_mm = 2", "rate_n_per_nm = 2", "bad.toml:7, key spring.rate_n_per_nm",
                "Did you mean 'rate_n_per_mm'"},
        Mistake{"MissingKey", "rate_n_per_mm = 2\n", "", "key spring.rate_n_per_mm", "the spring's rate"},
        Mistake{"WrongType", "rate_n_per_mm = 2", "rate_n_per_mm = \"two\"",
                "bad.toml:7, key spring.rate_n_per_mm", "Expected a number"},
        Mistake{"OutOfRange", "rate_n_per_mm = 2", "rate_n_per_mm = 900", "bad.toml:7", "from 0.1 to 50"},
        Mistake{"NotANumber", "rate_n_per_mm = 2", "rate_n_per_mm = nan", "bad.toml:7", "Expected a number"},
        Mistake{"UnknownSection", "[spring]", "[sprung]", "bad.toml:6, key sprung", "Did you mean 'spring'"},
        Mistake{"UnknownCheck", "checks = [\"toy\"]", "checks = [\"tuy\"]", "bad.toml:5, key phone.checks",
                "Did you mean 'toy'"},
        Mistake{"LimitOnNothing", "toy.force_n", "toy.farce_n", "bad.toml:12, key limit.measure",
                "Did you mean 'toy.force_n'"},
        Mistake{"LimitOnNoPart", "part = \"left\"", "part = \"right\"", "bad.toml:13, key limit.part",
                "no part 'right'"},
        Mistake{"NoBound", "upper = 3.5\n", "", "bad.toml:11, key limit", "Expected lower, upper or both"},
        Mistake{"NoOrigin", "origin = \"maker\"", "origin = \"rumour\"", "bad.toml:15, key limit.origin",
                "common practice"},
        Mistake{"NotToml", "[spring]", "[spring", "bad.toml:6", "Mend the line"},
        Mistake{"DisturbsNoSuchPart", "[spring]", "[disturbs]\nspeeker = [\"toy\"]\n[spring]",
                "bad.toml:7, key disturbs.speeker", "Did you mean 'speaker'"},
        Mistake{"DisturbsNoSuchCheck", "[spring]", "[disturbs]\nspeaker = [\"toi\"]\n[spring]",
                "bad.toml:7, key disturbs.speaker", "Did you mean 'toy'"},
        Mistake{"PersonalText", "Toy Phone", "ask ann@example.org", "bad.toml:2, key phone.name", "e-mail"}),
    [](const auto& p) { return std::string(p.param.name); });

TEST(Profiles, AMissingFileSaysHowToMakeOne) {
  const auto known = toys();
  const auto l = load("/nonexistent/none.toml", known);
  ASSERT_EQ(l.problems.size(), 1u);
  EXPECT_NE(l.problems[0].next.find("handback profile new"), std::string::npos);
}
}  // namespace
}  // namespace hb::profiles
