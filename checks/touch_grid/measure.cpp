#include <algorithm>
#include <cmath>

#include "judge.hpp"

namespace hb::checks {
namespace touch {
namespace {

/// The ways that fingers took while the phone dropped reports: straight from the last place seen to the next.
void excuse_dropped(const TouchGrid::DisplayCapture& c, const TouchGrid::Display& d, TouchMap& map) {
  for (std::size_t i = 0; i < c.dropped_to_us.size(); ++i) {
    const auto& t = c.points.t_us;
    const auto before = std::upper_bound(t.begin(), t.end(), c.dropped_from_us[i]) - t.begin();
    const auto after = std::lower_bound(t.begin(), t.end(), c.dropped_to_us[i]) - t.begin();
    if (before == 0 || after == static_cast<std::ptrdiff_t>(t.size())) continue;
    const auto a = static_cast<std::size_t>(before - 1), b = static_cast<std::size_t>(after);
    map.unknown(to_mm(d, c.points.x[a], c.points.y[a]), to_mm(d, c.points.x[b], c.points.y[b]));
  }
}
}  // namespace

const TouchGrid::DisplayCapture* capture_of(const TouchGrid::Capture& c, const TouchGrid::Display& d) {
  for (const auto& one : c.displays)
    if (one.part == d.name.str()) return &one;
  return nullptr;
}

Judged judged(const TouchGrid::DisplayCapture& c, const TouchGrid::Display& d) {
  Painter painter(d);
  // Only the sweep paints: what came before it was nobody's finger.
  TouchGrid::Points sweep;
  for (std::size_t i = 0; i < c.points.t_us.size(); ++i) {
    if (c.points.t_us[i] < c.sweep_from_us || c.points.t_us[i] > c.sweep_to_us) continue;
    sweep.t_us.push_back(c.points.t_us[i]);
    sweep.slot.push_back(c.points.slot[i]);
    sweep.contact.push_back(c.points.contact[i]);
    sweep.x.push_back(c.points.x[i]);
    sweep.y.push_back(c.points.y[i]);
  }
  (void)painter.paint(sweep, 0);
  TouchMap& map = painter.map();
  excuse_dropped(c, d, map);
  std::vector<std::uint8_t> dead;
  for (int row = 0; row < map.rows(); ++row)
    for (int col = 0; col < map.cols(); ++col) dead.push_back(map.dead(col, row) ? 1 : 0);
  Judged j{map, kernel::find_regions(dead, map.cols(), map.rows()),
           strokes(c, d, c.sweep_from_us, c.sweep_to_us), 0};
  j.ghosts = static_cast<int>(strokes(c, d, c.rest_from_us, c.rest_to_us).size());
  return j;
}
}  // namespace touch

namespace {
using touch::Judged;

Measure make(Term key, const TouchGrid::Display& d, double value, double u, Term unit, std::int64_t n) {
  return {key, d.name, value, u, unit, n};
}

void area_measures(const Judged& j, const TouchGrid::Display& d, std::vector<Measure>& out) {
  const auto& map = j.map;
  double area = 0, dead = 0, dead_u2 = 0;
  int largest = 0;
  std::vector<double> by_region(j.dead.all.size(), 0), by_region_u2(j.dead.all.size(), 0);
  for (int row = 0; row < map.rows(); ++row)
    for (int col = 0; col < map.cols(); ++col) {
      const double a = map.cell_area_mm2(row);
      area += a;
      const int label = j.dead.labels[static_cast<std::size_t>(row * map.cols() + col)];
      if (label == 0) continue;
      by_region[static_cast<std::size_t>(label - 1)] += a;
      by_region_u2[static_cast<std::size_t>(label - 1)] += a * a / 12;  // each cell: rectangular over itself
    }
  for (std::size_t i = 0; i < j.dead.all.size(); ++i) {
    largest = std::max(largest, j.dead.all[i].cells);
    if (j.dead.all[i].cells < 2) continue;  // a single cell is a spot that the hand missed
    dead += by_region[i], dead_u2 += by_region_u2[i];
  }
  const double one_cell = map.cell_area_mm2(0) / std::sqrt(12.0);
  const auto cells = static_cast<std::int64_t>(map.cols()) * map.rows();
  out.push_back(make("touch_grid.dead_area_pct", d, 100 * dead / area,
                     100 * std::max(std::sqrt(dead_u2), one_cell) / area, "%", cells));
  out.push_back(make("touch_grid.dead_region_cells", d, largest, 0.5 * std::sqrt(largest), "cells", cells));
}

void stroke_measures(const Judged& j, const TouchGrid::DisplayCapture& c, const TouchGrid::Display& d,
                     std::vector<Measure>& out) {
  const auto n = static_cast<std::int64_t>(j.sweep.size());
  const auto straight = touch::straightness(j.sweep);
  if (const auto edges = touch::edge_reach(j.sweep, d)) {
    const double pixel = std::max(d.width_mm / (d.max_x + 1), d.height_mm / (d.max_y + 1));
    const double noise = straight ? straight->jitter_mm : 0.1;  // 0.1 mm: common practice, no source
    out.push_back(make("touch_grid.edge_reach_mm", d, edges->worst(),
                       std::hypot(pixel / std::sqrt(12.0), noise), "mm", n));
  }
  if (straight) {
    out.push_back(
        make("touch_grid.straightness_rms_mm", d, straight->rms_mm, straight->u_rms_mm, "mm", straight->n));
    out.push_back(
        make("touch_grid.jitter_mm", d, straight->jitter_mm, straight->u_jitter_mm, "mm", straight->n));
  }
  if (const auto rate = touch::report_rate(j.sweep))
    out.push_back(make("touch_grid.report_rate_hz", d, rate->hz, rate->u_hz, "Hz", rate->n));
  out.push_back(make("touch_grid.ghost_contacts", d, j.ghosts, 0, "1", 1));
  if (n > 0) out.push_back(make("touch_grid.contacts_max", d, touch::contacts_at_once(j.sweep), 0, "1", n));
  out.push_back(make("touch_grid.lost_contacts", d, touch::lost_contacts(j.sweep, c, d), 0, "1", n));
}

Plot plot_of(const Judged& j, const TouchGrid::Display& d) {
  Plot p;
  p.kind = "touch_map";
  p.part = d.name;
  p.cols = j.map.cols();
  p.rows = j.map.rows();
  Series reached{"reached", "1", {}};
  for (int row = 0; row < p.rows; ++row)
    for (int col = 0; col < p.cols; ++col) reached.values.push_back(j.map.dead(col, row) ? 0 : 1);
  Series fold{"fold_rows", "1", {}};
  const auto [first, last] = j.map.fold_rows();
  if (first >= 0) fold.values = {static_cast<double>(first), static_cast<double>(last)};
  p.series = {std::move(reached), std::move(fold)};
  return p;
}

Error not_swept(const char* what) {
  return {ErrorCode::unsupported, what, "touch_grid",
          "Run this check again and sweep the panel edge to edge."};
}
}  // namespace

Result<Measured> TouchGrid::measure(const Capture& capture, const Config& config) {
  Measured m;
  int found = 0;
  for (const Display& d : config.displays) {
    const auto* c = touch::capture_of(capture, d);
    if (c == nullptr || !touch::well_formed(*c))
      return Error{ErrorCode::bad_format, "the touch capture is torn", d.name.str(), "Run the check again."};
    if (!c->found) continue;
    ++found;
    const Judged j = touch::judged(*c, d);
    if (j.sweep.empty() && c->gave_up) return not_swept("nobody swept a panel before the time was over");
    area_measures(j, d, m.measures);
    stroke_measures(j, *c, d, m.measures);
    m.plots.push_back(plot_of(j, d));
  }
  if (capture.touch_nodes == 0) return not_swept("the phone lists no touch device that can be read");
  m.measures.push_back({"touch_grid.devices_found",
                        {},
                        static_cast<double>(found),
                        0,
                        "1",
                        static_cast<std::int64_t>(config.displays.size())});
  return m;
}
}  // namespace hb::checks
