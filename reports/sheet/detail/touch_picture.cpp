#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "pictures.hpp"
#include "story.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
struct Map {
  const PlotView* plot;
  const std::vector<double>* reached;
  [[nodiscard]] bool dead(int col, int row) const {
    return !((*reached)[static_cast<std::size_t>(row) * static_cast<std::size_t>(plot->cols) +
                        static_cast<std::size_t>(col)] >= 0.5);
  }
};

std::vector<Map> maps_of(const CheckView& c) {
  std::vector<Map> maps;
  for (const auto& p : c.plots) {
    const auto* reached = p.kind == "touch_map" ? p.values("reached") : nullptr;
    if (reached && p.cols > 0 && p.rows > 0 &&
        reached->size() == static_cast<std::size_t>(p.cols) * static_cast<std::size_t>(p.rows))
      maps.push_back({&p, reached});
    if (maps.size() == 3) break;
  }
  return maps;
}

constexpr Pen fill(Colour c) { return Pen{.fill = c, .stroke = -1, .width = 0, .dash = {}}; }
Pen line(Colour c, double w, std::vector<double> dash = {}) {
  return Pen{.fill = -1, .stroke = c, .width = w, .dash = std::move(dash)};
}

void cells(Drawing& d, const Map& m, double x, double y, double cell) {
  const int cols = m.plot->cols, rows = m.plot->rows;
  const double w = cols * cell, h = rows * cell;
  d.add(Box{x, y, w, h, 0, fill(palette::petrol_light)});
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c) {
      int end = c;
      while (end < cols && m.dead(end, r)) ++end;
      if (end > c) d.add(Box{x + c * cell, y + r * cell, (end - c) * cell, cell, 0, fill(palette::ink)});
      c = std::max(c, end);
    }
  if (cell >= 1.2) {
    const double thin = std::min(0.3, cell / 8);
    for (int c = 1; c < cols; ++c)
      d.add(Line{{{x + c * cell, y}, {x + c * cell, y + h}}, false, line(palette::paper, thin)});
    for (int r = 1; r < rows; ++r)
      d.add(Line{{{x, y + r * cell}, {x + w, y + r * cell}}, false, line(palette::paper, thin)});
  }
  d.add(Box{x - 1.2, y - 1.2, w + 2.4, h + 2.4, 2, line(palette::ink, 0.9)});
}

void fold_line(Drawing& d, const Map& m, double x, double y, double cell, double text, const Language& l) {
  const auto* fold = m.plot->values("fold_rows");
  if (!fold || fold->size() < 2 || !std::isfinite((*fold)[0] + (*fold)[1])) return;
  const double at = y + std::clamp(((*fold)[0] + (*fold)[1] + 1) / 2, 0.0, double(m.plot->rows)) * cell;
  const double end = x + m.plot->cols * cell;
  d.add(Line{{{x - 5, at}, {end + 5, at}}, false, line(palette::paper, 1.6)});
  d.add(Line{{{x - 5, at}, {end + 5, at}}, false, line(palette::brick, 0.9, {2.2, 1.6})});
  d.add(Label{end + 7, at + text * 0.35, l.tr("fold"), text, Anchor::start, palette::brick, false});
}

bool has_fold(const Map& m) { return m.plot->values("fold_rows") != nullptr; }

/// A square, a gap and the longer of the two words, at about 0.56 em a letter.
double legend_width(double text, const Language& l) {
  const std::size_t longer = std::max(letters(l.tr("answered")), letters(l.tr("no answer")));
  return text * (1.6 + 0.56 * static_cast<double>(longer));
}

void legend(Drawing& d, double x, double y, double text, const Language& l) {
  const double s = text * 1.05;
  d.add(Box{x, y, s, s, 0, fill(palette::petrol_light)});
  d.add(Box{x, y, s, s, 0, line(palette::ink, 0.4)});
  d.add(Label{x + s * 1.5, y + s * 0.83, l.tr("answered"), text, Anchor::start, palette::ink, false});
  d.add(Box{x, y + s * 1.7, s, s, 0, fill(palette::ink)});
  d.add(Label{x + s * 1.5, y + s * 2.53, l.tr("no answer"), text, Anchor::start, palette::ink, false});
}

std::string told(const CheckView& c, const std::vector<Map>& maps, const Language& l) {
  std::string s;
  for (const auto& m : maps) {
    const auto dead =
        std::count_if(m.reached->begin(), m.reached->end(), [](double v) { return !(v >= 0.5); });
    const std::int64_t total = std::ssize(*m.reached);
    s += capitalised(l.filln("{1}: {2} of {0} field answered.", "{1}: {2} of {0} fields answered.", total,
                             part_words(c, m.plot->part, l), total - dead)) +
         " ";
  }
  return s;
}
}  // namespace

std::optional<Drawing> touch_picture(const CheckView& check, const Frame& f, const Language& l) {
  const std::vector<Map> maps = maps_of(check);
  if (maps.empty()) return std::nullopt;
  const double below = f.text * 1.9, legend_w = legend_width(f.text, l), gap = f.text * 1.6,
               fold_w = f.text * 2.6;
  double cols = 0, extra = 6 + legend_w;
  int rows = 1;
  for (const auto& m : maps) {
    cols += m.plot->cols;
    rows = std::max(rows, m.plot->rows);
    extra += gap + (has_fold(m) ? fold_w : 0);
  }
  const double cell = std::min((f.h - below - 4) / rows, (f.w - extra) / cols);
  if (!(cell > 0)) return std::nullopt;
  const double used = cols * cell + extra;
  Drawing d{f.w, f.h, l.tr("Touch map"), told(check, maps, l), {}};
  double x = std::max(6.0, (f.w - used) / 2 + 6);
  for (const auto& m : maps) {
    const double y = 2 + (f.h - below - 4 - m.plot->rows * cell) / 2, w = m.plot->cols * cell;
    cells(d, m, x, y, cell);
    fold_line(d, m, x, y, cell, f.text, l);
    const std::string name = m.plot->part.empty() ? l.tr("screen") : l.trc("screen", m.plot->part);
    d.add(Label{x + w / 2, y + m.plot->rows * cell + f.text * 1.5, shown(name, 16), f.text, Anchor::middle,
                palette::soft_ink, false});
    x += w + gap + (has_fold(m) ? fold_w : 0);
  }
  legend(d, x, (f.h - below) / 2 - f.text * 1.4, f.text, l);
  return d;
}
}  // namespace hb::sheet
