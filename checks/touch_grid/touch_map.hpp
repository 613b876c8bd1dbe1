/// Which parts of a panel a finger reached.
///
/// A digitizer reports the centre of a finger pad. Where that centre moved, the sensor lines within about
/// half a line pitch to both sides worked: the path paints a swath of 2 x 2.25 mm across its direction (pitch
/// of projected-capacitive panels 4 to 5 mm: common practice, no source), and nothing beyond its ends, so
/// that a line that breaks every stroke stays unpainted in its full width. The swath is kept in fine cells of
/// at most 1 mm; a grid cell (about 5 mm, 2.5 mm along the fold) is reached when three quarters of it are.
/// Pure value type.
#pragma once

#include <cmath>
#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include "checks/touch_grid/touch_grid.hpp"

namespace hb::checks::touch {

struct At {
  double x = 0, y = 0;  // mm
};
[[nodiscard]] inline double distance(At a, At b) noexcept { return std::hypot(a.x - b.x, a.y - b.y); }

/// Panel millimetres of a touch coordinate (the middle of its pixel).
[[nodiscard]] At to_mm(const TouchGrid::Display& d, int x, int y) noexcept;

class TouchMap {
 public:
  explicit TouchMap(const TouchGrid::Display& display);
  [[nodiscard]] int cols() const noexcept { return cols_; }
  [[nodiscard]] int rows() const noexcept { return static_cast<int>(row_edges_.size()) - 1; }
  /// Rows of the fold zone, inclusive; {-1, -1} without a fold.
  [[nodiscard]] std::pair<int, int> fold_rows() const noexcept { return fold_; }

  using Cells = std::vector<std::pair<int, int>>;  // col, row
  /// Paints the way of one contact between two reports; gives the cells that became reached by it.
  Cells stroke(At from, At to);
  /// A tap: a disc of the swath's half width.
  Cells tap(At at);
  /// Between these two places the phone dropped reports: what lies there is not judged unless reached.
  void unknown(At from, At to);

  [[nodiscard]] bool reached(int col, int row) const noexcept;
  /// Not reached, and not excused by dropped reports.
  [[nodiscard]] bool dead(int col, int row) const noexcept;
  [[nodiscard]] double cell_area_mm2(int row) const noexcept;

 private:
  enum class Mark : std::uint8_t { nothing, excused, painted };
  template <class Inside>
  Cells mark(At low, At high, Mark as, Inside inside);
  [[nodiscard]] At snapped(At p) const noexcept;
  [[nodiscard]] std::size_t cell(int col, int row) const noexcept {
    return static_cast<std::size_t>(row) * static_cast<std::size_t>(cols_) + static_cast<std::size_t>(col);
  }

  double width_, height_;
  int cols_ = 1;
  std::vector<double> row_edges_;
  std::pair<int, int> fold_{-1, -1};
  int per_col_ = 5;             // fine columns in a cell
  std::vector<double> fine_y_;  // centres
  std::vector<int> fine_row_;   // grid row of each fine row
  std::vector<int> per_row_;    // fine rows in each grid row
  std::vector<Mark> fine_;
  std::vector<int> painted_, excused_;  // fine cells by grid cell
};

/// Walks a capture's points in order and paints a map. `paint` is fed incrementally while acquiring.
class Painter {
 public:
  explicit Painter(const TouchGrid::Display& display) : display_(display), map_(display) {}
  /// Paints points `from` .. end of `p` (contacts continue from earlier calls).
  TouchMap::Cells paint(const TouchGrid::Points& p, std::size_t from);
  [[nodiscard]] TouchMap& map() noexcept { return map_; }

 private:
  struct Last {
    std::int64_t t_us;
    At at;
    std::int64_t start_us;
    At start;
    bool tapped;
  };
  TouchGrid::Display display_;
  TouchMap map_;
  std::vector<std::optional<Last>> last_;  // by contact
};

/// Two reports of one contact are joined when the finger cannot have jumped: at most 6 mm in 50 ms (a calm
/// sweep is 1 to 3 mm a report), or hardly moved at all.
[[nodiscard]] bool joined(std::int64_t dt_us, double mm) noexcept;

}  // namespace hb::checks::touch
