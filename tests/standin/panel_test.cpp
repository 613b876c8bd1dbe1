// What flaws of a panel look like on the page's fields, and what a technician marks of them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "tools/standin/hands/eyes.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
namespace {
constexpr const char* kFields[] = {"white", "black", "red", "green", "blue", "ramp", "grey", "crease"};

Unit unit_of(const char* model, std::uint64_t seed, const std::vector<std::string>& faults) {
  return make_unit(*find_model(model), seed, Faults::parse(faults, model).value());
}
const PanelLook& inner(const Unit& u) { return u.looks.front(); }

std::string seen_on(const PanelLook& p, const PanelFlaw& f) {
  std::string all;
  for (const char* field : kFields)
    if (contrast(p, f, field) >= kJustSeen) all += std::string(all.empty() ? "" : " ") + field;
  return all;
}

struct Row {
  const char* name;
  Flaw kind;
  std::array<double, 3> gain, floor;
  double bend;
  const char* seen;
};
class FlawIsSeen : public testing::TestWithParam<Row> {};
TEST_P(FlawIsSeen, OnTheFieldsThatShowIt) {
  const Unit u = unit_of("petal", 1, {});
  const Row& r = GetParam();
  const PanelFlaw f{r.kind, 20, 0.45 * 171.1, 12, 12, r.gain, r.floor, r.bend};
  EXPECT_EQ(seen_on(inner(u), f), r.seen);
}
// Which sub-pixels are lit by a field and which are not; contrasts of blue alone are weak beside white.
INSTANTIATE_TEST_SUITE_P(
    All, FlawIsSeen,
    testing::Values(
        Row{"dark_pixel", Flaw::dot, {0, 0, 0}, {}, 0, "white red green blue ramp grey"},
        Row{"dark_green_sub_pixel", Flaw::dot, {1, 0, 1}, {}, 0, "white green ramp grey"},
        Row{"dark_red_sub_pixel", Flaw::dot, {0, 1, 1}, {}, 0, "white red ramp grey"},
        Row{"lit_red_sub_pixel", Flaw::dot, {1, 1, 1}, {1, 0, 0}, 0, "black green blue ramp grey"},
        Row{"lit_pixel", Flaw::dot, {1, 1, 1}, {1, 1, 1}, 0, "black red green blue ramp grey"},
        Row{"dark_column", Flaw::column, {0, 0, 0}, {}, 0, "white red green blue ramp grey"},
        Row{"lit_column", Flaw::column, {1, 1, 1}, {1, 1, 1}, 0, "black red green blue ramp grey"},
        Row{"less_green", Flaw::patch, {1, 0.92, 1}, {}, 0, "white green ramp grey crease"},
        Row{"a_little_less_green", Flaw::patch, {1, 0.98, 1}, {}, 0, ""},
        Row{"black_spot", Flaw::patch, {0.02, 0.02, 0.02}, {}, 0, "white red green blue ramp grey crease"},
        Row{"lifted", Flaw::patch, {1, 1, 1}, {0.004, 0.004, 0.004}, 0.5, "black blue crease"}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(PanelLooks, OneUnitInEightHasOneDarkSubPixelAndNoMore) {
  int with = 0;
  for (std::uint64_t seed = 1; seed <= 800; ++seed) {
    const Unit u = unit_of("petal", seed, {});
    ASSERT_LE(inner(u).flaws.size(), 1u);
    ASSERT_TRUE(u.looks[1].flaws.empty());
    with += static_cast<int>(inner(u).flaws.size());
    for (const auto& f : inner(u).flaws) EXPECT_GT(std::abs(f.y_mm - 85.55), 16) << "off the fold";
  }
  EXPECT_NEAR(with, 100, 4 * std::sqrt(800 * 0.125 * 0.875));
}

TEST(PanelMarks, LieAFingersErrorBesideTheFlaw) {
  double ss = 0;
  int n = 0;
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    const Unit u = unit_of("plank", seed, {"panel-dark-pixels"});
    for (const char* field : {"white", "red", "green", "blue"}) {
      const auto marks = mark_field(u, 0, field);
      for (const auto& m : marks) {
        double nearest = 1e9;
        for (const auto& f : inner(u).flaws)
          nearest = std::min(nearest, std::hypot(m.x * 68.0 - f.x_mm, m.y * 147.3 - f.y_mm));
        ss += nearest * nearest, ++n;
      }
    }
  }
  ASSERT_GT(n, 1000);
  EXPECT_NEAR(std::sqrt(ss / (2 * n)), kFinger_mm, 0.08);  // Rayleigh: mean square is 2 sd^2
}

TEST(PanelMarks, ATapWhereTheTouchLayerIsDeadLeavesNone) {
  const Unit felt = unit_of("petal", 1, {"panel-fold-lifted"});
  const Unit dead = unit_of("petal", 1, {"panel-fold-lifted", "fold-flex-pinched"});
  EXPECT_EQ(mark_field(felt, 0, "crease").size(), 1u);
  EXPECT_EQ(mark_field(dead, 0, "crease").size(), 0u);
}

TEST(PanelMarks, ASmallDegreeIsNotSeenAndALargerOneIs) {
  EXPECT_TRUE(mark_field(unit_of("petal", 4, {"panel-tint:0.2"}), 0, "grey").empty());
  EXPECT_EQ(mark_field(unit_of("petal", 4, {"panel-tint:0.6"}), 0, "grey").size(), 1u);
}
}  // namespace
}  // namespace hb::standin
