#include "touch_map.hpp"

#include <algorithm>
#include <cmath>

namespace hb::checks::touch {
namespace {
constexpr double kCell_mm = 5, kFoldCell_mm = 2.5, kFoldZone_mm = 8;
constexpr double kHalfSwath_mm = 2.25, kEndSlack_mm = 0.6;
constexpr double kEdge_mm = 3;  // nearer to the edge than this, the pad covers the rest
constexpr double kReachedShare = 0.75;
constexpr double kTap_mm = 1;  // a contact that after kTap_us has moved less than this is a tap
constexpr std::int64_t kTap_us = 40000;

void add_rows(std::vector<double>& edges, double to, double pitch) {
  const double from = edges.back();
  if (to - from < 0.5) return;
  const int n = std::max(1, static_cast<int>(std::lround((to - from) / pitch)));
  for (int i = 1; i <= n; ++i) edges.push_back(from + (to - from) * i / n);
}
}  // namespace

At to_mm(const TouchGrid::Display& d, int x, int y) noexcept {
  return {(x + 0.5) / (d.max_x + 1.0) * d.width_mm, (y + 0.5) / (d.max_y + 1.0) * d.height_mm};
}

bool joined(std::int64_t dt_us, double mm) noexcept { return mm <= 1 || (mm <= 6 && dt_us <= 50000); }

TouchMap::TouchMap(const TouchGrid::Display& d) : width_(d.width_mm), height_(d.height_mm) {
  cols_ = std::max(1, static_cast<int>(std::lround(width_ / kCell_mm)));
  row_edges_ = {0.0};
  if (d.fold_y_px > 0) {
    const double fold = d.fold_y_px / (d.max_y + 1.0) * height_;
    const double top = std::max(0.0, fold - kFoldZone_mm), bottom = std::min(height_, fold + kFoldZone_mm);
    add_rows(row_edges_, top, kCell_mm);
    fold_.first = static_cast<int>(row_edges_.size()) - 1;
    add_rows(row_edges_, bottom, kFoldCell_mm);
    fold_.second = static_cast<int>(row_edges_.size()) - 2;
  }
  add_rows(row_edges_, height_, kCell_mm);
  row_edges_.back() = height_;
  per_col_ = static_cast<int>(std::ceil(width_ / cols_));
  for (int r = 0; r < rows(); ++r) {
    const double top = row_edges_[static_cast<std::size_t>(r)];
    const double h = row_edges_[static_cast<std::size_t>(r) + 1] - top;
    const int n = std::max(1, static_cast<int>(std::ceil(h)));
    per_row_.push_back(n);
    for (int i = 0; i < n; ++i) fine_y_.push_back(top + h * (i + 0.5) / n), fine_row_.push_back(r);
  }
  fine_.assign(fine_y_.size() * static_cast<std::size_t>(cols_ * per_col_), Mark::nothing);
  painted_.assign(static_cast<std::size_t>(cols_ * rows()), 0);
  excused_ = painted_;
}

double TouchMap::cell_area_mm2(int row) const noexcept {
  const auto r = static_cast<std::size_t>(row);
  return width_ / cols_ * (row_edges_[r + 1] - row_edges_[r]);
}

bool TouchMap::reached(int col, int row) const noexcept {
  const int all = per_col_ * per_row_[static_cast<std::size_t>(row)];
  return painted_[cell(col, row)] >= kReachedShare * all;
}

bool TouchMap::dead(int col, int row) const noexcept {
  const int all = per_col_ * per_row_[static_cast<std::size_t>(row)];
  return painted_[cell(col, row)] + excused_[cell(col, row)] < kReachedShare * all;
}

/// Marks the fine cells whose centres lie in the box and for which `inside` holds.
template <class Inside>
TouchMap::Cells TouchMap::mark(At low, At high, Mark as, Inside inside) {
  Cells news;
  const double pitch = width_ / (cols_ * per_col_);
  const int last_col = cols_ * per_col_ - 1;
  const int c0 = std::clamp(static_cast<int>(std::ceil(low.x / pitch - 0.5)), 0, last_col + 1);
  const int c1 = std::clamp(static_cast<int>(std::floor(high.x / pitch - 0.5)), -1, last_col);
  const auto first = std::lower_bound(fine_y_.begin(), fine_y_.end(), low.y);
  for (auto it = first; it != fine_y_.end() && *it <= high.y; ++it) {
    const auto fr = static_cast<std::size_t>(it - fine_y_.begin());
    for (int c = c0; c <= c1; ++c) {
      Mark& m = fine_[fr * static_cast<std::size_t>(last_col + 1) + static_cast<std::size_t>(c)];
      if (m >= as || !inside(At{(c + 0.5) * pitch, *it})) continue;
      const int col = c / per_col_, row = fine_row_[fr];
      const bool before = reached(col, row);
      if (m == Mark::excused) --excused_[cell(col, row)];
      m = as;
      ++(as == Mark::painted ? painted_ : excused_)[cell(col, row)];
      if (!before && reached(col, row)) news.emplace_back(col, row);
    }
  }
  return news;
}

At TouchMap::snapped(At p) const noexcept {
  if (p.x < kEdge_mm) p.x = 0;
  if (p.x > width_ - kEdge_mm) p.x = width_;
  if (p.y < kEdge_mm) p.y = 0;
  if (p.y > height_ - kEdge_mm) p.y = height_;
  return p;
}

namespace {
struct Swath {
  At a;
  double ux, uy, length;
  Swath(At from, At to) : a(from), ux(1), uy(0), length(distance(from, to)) {
    if (length > 0) ux = (to.x - from.x) / length, uy = (to.y - from.y) / length;
  }
  [[nodiscard]] bool holds(At p) const noexcept {
    const double dx = p.x - a.x, dy = p.y - a.y;
    const double along = dx * ux + dy * uy, across = dy * ux - dx * uy;
    return along >= -kEndSlack_mm && along <= length + kEndSlack_mm && std::abs(across) <= kHalfSwath_mm;
  }
};
At low_of(At a, At b) { return {std::min(a.x, b.x) - kHalfSwath_mm, std::min(a.y, b.y) - kHalfSwath_mm}; }
At high_of(At a, At b) { return {std::max(a.x, b.x) + kHalfSwath_mm, std::max(a.y, b.y) + kHalfSwath_mm}; }
}  // namespace

TouchMap::Cells TouchMap::stroke(At from, At to) {
  const auto paint = [this](At a, At b) {
    return mark(low_of(a, b), high_of(a, b), Mark::painted, [s = Swath(a, b)](At p) { return s.holds(p); });
  };
  Cells news = paint(from, to);
  const At a = snapped(from), b = snapped(to);
  if (distance(a, from) > 0 || distance(b, to) > 0) {
    const Cells more = paint(a, b);
    news.insert(news.end(), more.begin(), more.end());
  }
  return news;
}

TouchMap::Cells TouchMap::tap(At at) {
  return mark(low_of(at, at), high_of(at, at), Mark::painted,
              [at](At p) { return distance(p, at) <= kHalfSwath_mm; });
}

void TouchMap::unknown(At from, At to) {
  (void)mark(low_of(from, to), high_of(from, to), Mark::excused,
             [s = Swath(from, to)](At p) { return s.holds(p); });
}

TouchMap::Cells Painter::paint(const TouchGrid::Points& p, std::size_t from) {
  TouchMap::Cells news;
  const auto add = [&](const TouchMap::Cells& c) { news.insert(news.end(), c.begin(), c.end()); };
  for (std::size_t i = from; i < p.t_us.size(); ++i) {
    const auto k = static_cast<std::size_t>(p.contact[i]);
    if (k >= last_.size()) last_.resize(k + 1);
    const At at = to_mm(display_, p.x[i], p.y[i]);
    auto& last = last_[k];
    if (!last) {
      last = Last{p.t_us[i], at, p.t_us[i], at, false};
      continue;
    }
    const double mm = distance(last->at, at);
    if (joined(p.t_us[i] - last->t_us, mm)) add(map_.stroke(last->at, at));
    if (!last->tapped && p.t_us[i] - last->start_us >= kTap_us && distance(last->start, at) < kTap_mm) {
      last->tapped = true;
      add(map_.tap(at));
    }
    last->t_us = p.t_us[i], last->at = at;
  }
  return news;
}
}  // namespace hb::checks::touch
