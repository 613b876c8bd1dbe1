/// Connected regions of a boolean grid (4-neighbour: cells that share a side) and their shape.
/// Source: the usual two-pass labelling with union-find (Rosenfeld and Pfaltz 1966). Pure; any thread.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace hb::kernel {

/// How a region lies in its grid. A row or column crosses (nearly) the whole grid the one way and not the
/// other; how thick it is stands in the region.
enum class Shape { speck, blob, row, column, whole };

struct Region {
  int cells = 0;
  int col_first = 0, col_last = 0, row_first = 0, row_last = 0;  ///< bounding box, inclusive
  double col_centre = 0, row_centre = 0;                         ///< mean of the cells' indices
  Shape shape = Shape::speck;
  [[nodiscard]] int width() const noexcept { return col_last - col_first + 1; }
  [[nodiscard]] int height() const noexcept { return row_last - row_first + 1; }
};

struct Regions {
  std::vector<int> labels;  ///< as the grid: 0 outside, else 1 + index into `all`
  std::vector<Region> all;  ///< in reading order of each region's first cell
  [[nodiscard]] const Region* largest() const noexcept;  ///< nullptr if none
};

/// What counts as crossing the grid, as a fraction of its columns (rows), and how much of the bounding box
/// must belong to the region for a row or column (our choice: a line that a few cells interrupt is a line).
struct ShapeRule {
  double span = 0.9;
  double fill = 0.5;
};

/// `grid`: row major, rows x cols, non-zero is set. std::invalid_argument when the size does not fit.
/// Grids of one column or one row have no lines: their regions are specks, blobs or the whole.
[[nodiscard]] Regions find_regions(std::span<const std::uint8_t> grid, int cols, int rows,
                                   ShapeRule rule = {});

}  // namespace hb::kernel
