#include "checks/kernel/regions.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace hb::kernel {
namespace {

std::vector<std::uint8_t> cells_of(const std::string& text) {
  std::vector<std::uint8_t> v;
  for (const char c : text) v.push_back(c == '#' ? 1 : 0);
  return v;
}

struct LabelRow {
  std::string name;
  int cols, rows;
  std::string grid, labels;
};
class Labels : public testing::TestWithParam<LabelRow> {};
TEST_P(Labels, EqualSingleLinkageClustering) {
  const auto& row = GetParam();
  const auto r = find_regions(cells_of(row.grid), row.cols, row.rows);
  std::string got;
  for (const int l : r.labels) got += static_cast<char>('0' + l);
  EXPECT_EQ(got, row.labels);
  for (std::size_t i = 0; i < r.all.size(); ++i)
    EXPECT_EQ(r.all[i].cells, std::count(r.labels.begin(), r.labels.end(), static_cast<int>(i) + 1));
}
// Labels: R 4.2.2 hclust(single) cut at Manhattan distance 1, tests/reference/regions.R
INSTANTIATE_TEST_SUITE_P(
    R, Labels,
    testing::Values(LabelRow{"Spiral", 7, 7, "#######......######.##...#.##.###.##.....########",
                             "1111111000000111111011000101101110110000011111111"},
                    LabelRow{"DiagonalTouchIsNoConnection", 3, 3, "#...#...#", "100020003"},
                    LabelRow{"CombJoinsLate", 7, 5, "#.#.#.##.#.#.########.......##...##",
                             "10101011010101111111100000002200033"},
                    LabelRow{"Noise", 12, 6,
                             "..##.#....#.#.#..##.###.##...#..#..#...##..##.###.#..###....###.#....##.",
                             "001102000030401002203330440002003005000660033055707003330000777080000990"},
                    LabelRow{"FullRow", 8, 3, "........########........", "000000001111111100000000"},
                    LabelRow{"One", 1, 1, "#", "1"}),
    [](const auto& row) { return row.param.name; });

struct ShapeRow {
  std::string name;
  int cols, rows;
  std::string grid;
  Shape shape;
  int thickness;
};
class Shapes : public testing::TestWithParam<ShapeRow> {};
TEST_P(Shapes, OfTheLargestRegion) {
  const auto& row = GetParam();
  const auto r = find_regions(cells_of(row.grid), row.cols, row.rows);
  ASSERT_NE(r.largest(), nullptr);
  EXPECT_EQ(static_cast<int>(r.largest()->shape), static_cast<int>(row.shape));
  EXPECT_EQ(std::min(r.largest()->width(), r.largest()->height()), row.thickness);
}
// By the definition in the header.
INSTANTIATE_TEST_SUITE_P(
    Definition, Shapes,
    testing::Values(ShapeRow{"Row", 5, 3, ".....#####.....", Shape::row, 1},
                    ShapeRow{"BandIsAThickRow", 5, 4, ".....##########.....", Shape::row, 2},
                    ShapeRow{"Column", 3, 4, ".#..#..#..#.", Shape::column, 1},
                    ShapeRow{"Blob", 4, 4, ".....##..##.....", Shape::blob, 2},
                    ShapeRow{"Speck", 3, 3, "....#....", Shape::speck, 1},
                    ShapeRow{"Whole", 2, 2, "####", Shape::whole, 2},
                    ShapeRow{"AFrameIsNeitherRowNorColumn", 5, 5, "######...##...##...######", Shape::whole,
                             5},
                    ShapeRow{"ADiagonalStairIsABlob", 4, 4, "##...##...##...#", Shape::blob, 4}),
    [](const auto& row) { return row.param.name; });

TEST(Regions, EmptyGridHasNone) {
  EXPECT_EQ(find_regions({}, 0, 0).largest(), nullptr);
  const std::vector<std::uint8_t> grid(6, 0);
  EXPECT_TRUE(find_regions(grid, 3, 2).all.empty());
  EXPECT_THROW((void)find_regions(grid, 4, 2), std::invalid_argument);
}

}  // namespace
}  // namespace hb::kernel
