// What was seen -> what to open again. A panel cannot be mended: most findings send the assembly back, but a
// flex or what presses from below is looked at first.
#include <algorithm>
#include <cmath>

#include "checks/panel/panel.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
namespace {
using Fault = Panel::Fault;
using Kind = Fault::Kind;
constexpr double kOnePlace_mm = 30;  // dots within it come from one blow; our choice

struct Table {
  const Seen& seen;
  std::vector<Fault> all;
  std::vector<Finding>& out;

  template <class F>
  [[nodiscard]] bool any(F wanted) const {
    return std::any_of(all.begin(), all.end(), wanted);
  }
};

bool in_one_place(const std::vector<Fault>& all, Kind kind) {
  std::vector<const Fault*> dots;
  for (const Fault& f : all)
    if (f.kind == kind && !f.on_fold) dots.push_back(&f);
  if (dots.size() < 3) return false;
  return std::all_of(dots.begin(), dots.end(), [&](const Fault* f) {
    return std::hypot(f->x_mm - dots[0]->x_mm, f->y_mm - dots[0]->y_mm) <= kOnePlace_mm;
  });
}

void lines(const Table& t) {
  if (!t.seen.bad("panel.observed_lines")) return;
  t.out.push_back(t.seen.finding(
      "line_open",
      "A line runs over the whole panel: either the display's flex is not fully seated, or the driver bonded "
      "to "
      "the panel's edge has lost a line.",
      "Open the connector of this panel's flex, clean and seat it, and look again; if the line stays, the "
      "display assembly is bad.",
      {"panel.observed_lines"}));
}

void dots(const Table& t) {
  if (t.seen.bad("panel.observed_bright_dots")) {
    if (in_one_place(t.all, Kind::bright_dot))
      t.out.push_back(t.seen.finding(
          "pixels_stuck_on",
          "Pixels that stay lit stand close together: either the panel was hit or bent there, or it came so.",
          "Look under that place for a screw or cable that presses; the display assembly itself is bad.",
          {"panel.observed_bright_dots"}));
    else
      t.out.push_back(t.seen.finding("pixels_stuck_on", "Single pixels stay lit on black.",
                                     "Nothing to seat: send the display assembly back as a bad part.",
                                     {"panel.observed_bright_dots"}));
  }
  if (t.seen.bad("panel.observed_dark_dots"))
    t.out.push_back(t.seen.finding(
        "pixels_dark",
        "More dark pixels than allowed: either the panel came so, or dirt lies on the glass or under the "
        "film.",
        "Clean the glass and look again; if they stay, send the display assembly back as a bad part.",
        {"panel.observed_dark_dots"}));
}

/// A spot that no colour lights has lost its pixels; one that shows on some colours only is off in its
/// colour.
bool unlit(const Fault& f) { return f.on(Field::red) && f.on(Field::green) && f.on(Field::blue); }

void patches(const Table& t) {
  if (!t.seen.bad("panel.observed_patches")) return;
  const auto patch = [](const Fault& f) { return f.kind == Kind::patch && !f.on_fold; };
  if (t.any([&](const Fault& f) { return patch(f) && unlit(f); }))
    t.out.push_back(t.seen.finding(
        "pressure_spot",
        "A spot stays dark on every colour: the panel has a crack or a pressure mark there, and it can grow.",
        "Look under that place for a screw, a cable or a swollen battery before a new display assembly is "
        "fitted.",
        {"panel.observed_patches", "panel.observed_patch_area_mm2"}));
  if (t.any([&](const Fault& f) { return patch(f) && !unlit(f); }))
    t.out.push_back(t.seen.finding("uneven_patch",
                                   "A patch differs in tint or brightness: either the panel is uneven by "
                                   "itself, or something presses on "
                                   "it or comes loose under it.",
                                   "Look at what lies under that place and at the adhesive; if nothing "
                                   "presses, send the display assembly "
                                   "back.",
                                   {"panel.observed_patches", "panel.observed_patch_area_mm2"}));
}

void fold(const Table& t) {
  if (!t.seen.bad("panel.observed_fold_marks")) return;
  const auto lifted = [](const Fault& f) { return f.on_fold && f.kind == Kind::patch && !unlit(f); };
  const auto broken = [&](const Fault& f) { return f.on_fold && !lifted(f); };
  if (t.any(lifted))
    t.out.push_back(t.seen.finding(
        "fold_layers_lifted",
        "The layers look lifted along the fold: either the panel's layers part there, or it is not bonded "
        "flat "
        "over the hinge.",
        "Look at the hinge's support plates and the adhesive beside the fold; do not fold the phone again "
        "before.",
        {"panel.observed_fold_marks"}));
  if (t.any(broken))
    t.out.push_back(t.seen.finding(
        "fold_broken", "Pixels are dead or lit along the fold: the panel is damaged where it bends.",
        "Check that the hinge moves freely and nothing lies between panel and hinge; the display assembly is "
        "bad.",
        {"panel.observed_fold_marks"}));
}
}  // namespace

std::vector<Finding> Panel::diagnose(std::span<const Verdict> verdicts, const Capture& capture,
                                     const Config& config) {
  std::vector<Finding> out;
  for (std::size_t i = 0; i < config.displays.size() && i < capture.displays.size(); ++i) {
    const Display& d = config.displays[i];
    if (capture.displays[i].shown != Shown::yes) continue;
    const Seen seen{verdicts, d.name};
    const Table t{seen, faults(capture.displays[i], d, config), out};
    lines(t), dots(t), patches(t), fold(t);
  }
  return out;
}
}  // namespace hb::checks
