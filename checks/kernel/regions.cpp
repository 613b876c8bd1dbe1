#include "checks/kernel/regions.hpp"

#include <algorithm>
#include <numeric>
#include <stdexcept>

namespace hb::kernel {
namespace {
class Sets {
 public:
  int make() {
    parent_.push_back(static_cast<int>(parent_.size()));
    return parent_.back();
  }
  int root(int i) {
    while (parent_[at(i)] != i) {
      parent_[at(i)] = parent_[at(parent_[at(i)])];
      i = parent_[at(i)];
    }
    return i;
  }
  void join(int a, int b) {
    a = root(a), b = root(b);
    parent_[at(std::max(a, b))] = std::min(a, b);
  }

 private:
  static std::size_t at(int i) { return static_cast<std::size_t>(i); }
  std::vector<int> parent_;
};

Shape shape_of(const Region& r, int cols, int rows, ShapeRule rule) {
  const double fill = static_cast<double>(r.cells) / (static_cast<double>(r.width()) * r.height());
  const bool filled = fill >= rule.fill;
  const bool across = filled && r.width() >= rule.span * cols;
  const bool down = filled && r.height() >= rule.span * rows;
  if (across && down) return Shape::whole;
  if (across && cols > 1) return Shape::row;
  if (down && rows > 1) return Shape::column;
  return r.cells == 1 ? Shape::speck : Shape::blob;
}
}  // namespace

const Region* Regions::largest() const noexcept {
  const auto it = std::max_element(all.begin(), all.end(),
                                   [](const Region& a, const Region& b) { return a.cells < b.cells; });
  return it == all.end() ? nullptr : &*it;
}

Regions find_regions(std::span<const std::uint8_t> grid, int cols, int rows, ShapeRule rule) {
  if (cols < 0 || rows < 0 || grid.size() != static_cast<std::size_t>(cols) * static_cast<std::size_t>(rows))
    throw std::invalid_argument("find_regions: rows x cols cells");
  Regions out;
  out.labels.assign(grid.size(), -1);
  Sets sets;
  const auto w = static_cast<std::size_t>(cols);
  for (std::size_t i = 0; i < grid.size(); ++i) {
    if (grid[i] == 0) continue;
    const int left = i % w > 0 ? out.labels[i - 1] : -1;
    const int up = i >= w ? out.labels[i - w] : -1;
    out.labels[i] = left >= 0 ? left : up >= 0 ? up : sets.make();
    if (left >= 0 && up >= 0) sets.join(left, up);
  }
  std::vector<int> number(grid.size() + 1, 0);  // by root: 1 + index in `all`
  for (std::size_t i = 0; i < grid.size(); ++i) {
    if (out.labels[i] < 0) {
      out.labels[i] = 0;
      continue;
    }
    const int col = static_cast<int>(i % w), row = static_cast<int>(i / w);
    int& k = number[static_cast<std::size_t>(sets.root(out.labels[i]))];
    if (k == 0) {
      out.all.push_back({0, col, col, row, row, 0, 0, Shape::speck});
      k = static_cast<int>(out.all.size());
    }
    Region& r = out.all[static_cast<std::size_t>(k - 1)];
    ++r.cells;
    r.col_first = std::min(r.col_first, col), r.col_last = std::max(r.col_last, col);
    r.row_last = std::max(r.row_last, row);
    r.col_centre += col, r.row_centre += row;
    out.labels[i] = k;
  }
  for (Region& r : out.all) {
    r.col_centre /= r.cells, r.row_centre /= r.cells;
    r.shape = shape_of(r, cols, rows, rule);
  }
  return out;
}
}  // namespace hb::kernel
