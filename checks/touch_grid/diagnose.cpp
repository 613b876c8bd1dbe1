#include <algorithm>

#include "checks/seen.hpp"
#include "judge.hpp"

namespace hb::checks {
namespace {
constexpr int kTellingCells = 4;  // smaller regions have no shape to speak of

const Verdict* verdict_of(std::span<const Verdict> verdicts, std::string_view key, const ShopText& part) {
  for (const Verdict& v : verdicts)
    if (v.measure.key.view() == key && v.measure.part == part && is_bad(v)) return &v;
  return nullptr;
}

Finding not_connected(const ShopText& part) {
  return {"digitizer_not_connected",
          "The phone does not feel this panel at all.",
          "The touch flex of this panel: its connector on the main board first, then the flex for folds or "
          "tears. On a new assembly, that the part is the right one for this model.",
          part,
          {}};
}

Finding by_shape(const kernel::Region& r, const touch::TouchMap& map, const ShopText& part) {
  const auto [fold_first, fold_last] = map.fold_rows();
  const bool at_fold = fold_first >= 0 && r.row_first <= fold_last && r.row_last >= fold_first;
  switch (r.shape) {
    case kernel::Shape::whole:
      return not_connected(part);
    case kernel::Shape::row:
      if (at_fold)
        return {
            "fold_flex_pinched",
            "A band along the fold does not feel touch, over the whole width.",
            "The display flex where it passes the hinge: look for a pinch or a crease at the fold, and that "
            "it lies in its channel; then its connector. A flex that is bent through means a new display "
            "assembly.",
            part,
            {}};
      return {
          "row_line_open",
          "A strip across the whole width, away from the fold, does not feel touch.",
          "The touch connector of this panel: reseat it and look for bent or dirty contacts. If the strip "
          "stays, a sensor line is open and the panel is to be replaced.",
          part,
          {}};
    case kernel::Shape::column:
      return {
          "column_line_open",
          "A strip over the whole height does not feel touch.",
          "The touch connector of this panel: reseat it and look for bent or dirty contacts. If the strip "
          "stays, a sensor line or driver channel is open and the panel is to be replaced.",
          part,
          {}};
    case kernel::Shape::blob:
    case kernel::Shape::speck:
      break;
  }
  return {"panel_damaged",
          "A patch of the panel does not feel touch.",
          "Either the panel itself: look for a crack, a pressure mark or a lifted layer there, and for "
          "something pressing from behind. Or, when the patch is one row or column wide, part of a sensor "
          "line: reseat the touch connector. If the patch was only missed by the finger, sweep there again.",
          part,
          {}};
}

void add_once(std::vector<Finding>& all, Finding f) {
  const bool known =
      std::any_of(all.begin(), all.end(), [&](const Finding& o) { return o.id == f.id && o.part == f.part; });
  if (!known) all.push_back(std::move(f));
}

void of_display(std::span<const Verdict> verdicts, const TouchGrid::DisplayCapture& c,
                const TouchGrid::Display& d, std::vector<Finding>& out) {
  const Verdict* region = verdict_of(verdicts, "touch_grid.dead_region_cells", d.name);
  const Verdict* area = verdict_of(verdicts, "touch_grid.dead_area_pct", d.name);
  const Verdict* lost = verdict_of(verdicts, "touch_grid.lost_contacts", d.name);
  if (region != nullptr || area != nullptr) {
    const touch::Judged j = touch::judged(c, d);
    auto regions = j.dead.all;
    std::stable_sort(regions.begin(), regions.end(),
                     [](const auto& a, const auto& b) { return a.cells > b.cells; });
    for (const auto& r : regions) {
      if (r.cells < kTellingCells && r.cells < regions.front().cells) break;
      Finding f = by_shape(r, j.map, d.name);
      for (const Verdict* v : {region, area})
        if (v != nullptr) f.evidence.push_back(v->measure);
      add_once(out, std::move(f));
    }
  } else if (lost != nullptr) {
    add_once(out, {"contacts_lost",
                   "The panel loses a finger in the middle of strokes, though every place answers.",
                   "The touch connector of this panel: reseat it; a contact that comes and goes.",
                   d.name,
                   {lost->measure}});
  }
  if (const Verdict* ghosts = verdict_of(verdicts, "touch_grid.ghost_contacts", d.name))
    add_once(out,
             {"ghost_contacts",
              "The panel reports touches while nobody touches it.",
              "Ground and shield of the display assembly: missing ground tape or screws, moisture, a cracked "
              "panel, a charger or cable that disturbs. Then the touch connector.",
              d.name,
              {ghosts->measure}});
}
}  // namespace

std::vector<Finding> TouchGrid::diagnose(std::span<const Verdict> verdicts, const Capture& capture,
                                         const Config& config) {
  std::vector<Finding> out;
  for (const Display& d : config.displays) {
    const auto* c = touch::capture_of(capture, d);
    if (c == nullptr || !touch::well_formed(*c)) continue;
    if (c->found)
      of_display(verdicts, *c, d, out);
    else if (verdict_of(verdicts, "touch_grid.devices_found", {}) != nullptr)
      add_once(out, not_connected(d.name));
  }
  return out;
}
}  // namespace hb::checks
