// The faults that a person marked on the screens, at one scale.
#include <algorithm>
#include <array>
#include <cmath>

#include "pictures.hpp"
#include "story.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
constexpr std::size_t kMost = 200;  // faults drawn a panel

struct Map {
  const PlotView* plot;
  double w, h;                                          ///< mm
  std::array<const std::vector<double>*, 5> columns{};  ///< kind, x, y, w, h
  [[nodiscard]] std::size_t size() const { return columns[0] ? std::min(columns[0]->size(), kMost) : 0; }
  [[nodiscard]] double at(std::size_t column, std::size_t i) const { return (*columns[column])[i]; }
};

std::vector<Map> maps_of(const CheckView& c) {
  std::vector<Map> maps;
  for (const auto& p : c.plots) {
    const auto* size = p.kind == "defect_map" ? p.values("size") : nullptr;
    if (!size || size->size() != 2 || maps.size() == 3) continue;
    const auto side = [](double v) { return v >= 5 && v <= 1000; };
    if (!side((*size)[0]) || !side((*size)[1])) continue;
    Map m{&p, (*size)[0], (*size)[1], {}};
    constexpr std::array<std::string_view, 5> names{"kind", "x", "y", "w", "h"};
    for (std::size_t i = 0; i < names.size(); ++i) m.columns[i] = p.values(names[i]);
    const bool whole = std::all_of(m.columns.begin(), m.columns.end(), [&](const auto* v) {
      return v != nullptr && v->size() == m.columns[0]->size() &&
             std::all_of(v->begin(), v->end(), [](double x) { return std::isfinite(x); });
    });
    if (!whole) m.columns = {};
    maps.push_back(m);
  }
  return maps;
}

Pen stroke(Colour c, double w, std::vector<double> dash = {}) {
  return Pen{.fill = -1, .stroke = c, .width = w, .dash = std::move(dash)};
}
Pen filled(Colour c) { return Pen{.fill = c, .stroke = -1, .width = 0, .dash = {}}; }

/// Kinds: checks/panel/panel.hpp, Fault::Kind. A bright dot is a ring, a dark one a disc.
void fault(Drawing& d, const Map& m, std::size_t i, double x0, double y0, double scale) {
  const double x = x0 + std::clamp(m.at(1, i), 0.0, m.w) * scale,
               y = y0 + std::clamp(m.at(2, i), 0.0, m.h) * scale;
  const double r = 2.2;
  switch (static_cast<int>(m.at(0, i))) {
    case 0:
      d.add(Disc{x, y, r, Pen{.fill = palette::paper, .stroke = palette::brick, .width = 1.2, .dash = {}}});
      break;
    case 1:
      d.add(Disc{x, y, r, filled(palette::ink)});
      break;
    case 2:
      d.add(Line{{{x, y0}, {x, y0 + m.h * scale}}, false, stroke(palette::brick, 1.4)});
      break;
    case 3:
      d.add(Line{{{x0, y}, {x0 + m.w * scale, y}}, false, stroke(palette::brick, 1.4)});
      break;
    case 4: {
      const double w = std::clamp(m.at(3, i), 4.0, m.w) * scale, h = std::clamp(m.at(4, i), 4.0, m.h) * scale;
      d.add(Box{std::max(x0, x - w / 2), std::max(y0, y - h / 2), w, h, 2,
                stroke(palette::brick, 1, {2.2, 1.6})});
      break;
    }
    default:
      break;
  }
}

void panel(Drawing& d, const Map& m, double x, double y, double scale) {
  d.add(Box{x, y, m.w * scale, m.h * scale, 0, filled(palette::petrol_tint)});
  if (const auto* fold = m.plot->values("fold"); fold && fold->size() == 2) {
    const double from = std::clamp((*fold)[0], 0.0, m.h), to = std::clamp((*fold)[1], from, m.h);
    d.add(Box{x, y + from * scale, m.w * scale, (to - from) * scale, 0, filled(palette::petrol_light)});
  }
  for (std::size_t i = 0; i < m.size(); ++i) fault(d, m, i, x, y, scale);
  d.add(Box{x - 1.2, y - 1.2, m.w * scale + 2.4, m.h * scale + 2.4, 2, stroke(palette::ink, 0.9)});
}
struct Sign {
  bool used;
  std::string word;
  Shape shape;  ///< in a square of one letter's size
};
/// The signs that the maps use, in words.
std::vector<Sign> signs_of(const std::vector<Map>& maps, double s, const Language& l) {
  std::array<bool, 5> used{};
  for (const Map& m : maps)
    for (std::size_t i = 0; i < m.size(); ++i)
      if (const double kind = m.at(0, i); kind >= 0 && kind < 5) used[static_cast<std::size_t>(kind)] = true;
  std::vector<Sign> all{
      {used[0], l.tr("bright dots"),
       Disc{s / 2, s / 2, 2.2,
            Pen{.fill = palette::paper, .stroke = palette::brick, .width = 1.2, .dash = {}}}},
      {used[1], l.tr("dark dots"), Disc{s / 2, s / 2, 2.2, filled(palette::ink)}},
      {used[2] || used[3], l.tr("lines"), Line{{{0, s / 2}, {s, s / 2}}, false, stroke(palette::brick, 1.4)}},
      {used[4], l.tr("spots"), Box{0, 0, s, s, 2, stroke(palette::brick, 1, {2.2, 1.6})}}};
  std::erase_if(all, [](const Sign& sign) { return !sign.used; });
  return all;
}

/// A sign, a gap and the longest word, at about 0.56 em a letter.
double width_of(const std::vector<Sign>& signs, double text) {
  std::size_t longest = 0;
  for (const Sign& s : signs) longest = std::max(longest, letters(s.word));
  return text * (1.6 + 0.56 * static_cast<double>(longest));
}

void legend(Drawing& d, const std::vector<Sign>& signs, double x, double y, double text) {
  for (const Sign& sign : signs) {
    Shape shape = sign.shape;
    if (auto* line = std::get_if<Line>(&shape))
      for (auto& p : line->points) p.x += x, p.y += y;
    if (auto* disc = std::get_if<Disc>(&shape)) disc->x += x, disc->y += y;
    if (auto* box = std::get_if<Box>(&shape)) box->x += x, box->y += y;
    d.shapes.push_back(std::move(shape));
    d.add(Label{x + text * 1.5, y + text * 0.8, sign.word, text, Anchor::start, palette::ink, false});
    y += text * 1.7;
  }
}
}  // namespace

std::optional<Drawing> defect_picture(const CheckView& check, const Frame& f, const Language& l) {
  const std::vector<Map> maps = maps_of(check);
  const bool any = std::any_of(maps.begin(), maps.end(), [](const Map& m) { return m.size() > 0; });
  if (!any) return std::nullopt;
  const double below = f.text * 1.9, gap = f.text * 2;
  double wide = 0, high = 0;
  for (const Map& m : maps) wide += m.w, high = std::max(high, m.h);
  const double gaps = gap * static_cast<double>(maps.size() - 1);
  const double scale = std::min((f.h - below - 4) / high, (f.w - 6 - gaps) / wide);
  if (!(scale > 0)) return std::nullopt;
  Drawing d{f.w, f.h, l.tr("Faults seen on the screens"), {}, {}};
  const auto signs = signs_of(maps, f.text, l);
  const double beside = gap + width_of(signs, f.text);
  const bool room = wide * scale + gaps + beside + 6 <= f.w;  // the maps are not made smaller for it
  double x = (f.w - wide * scale - gaps - (room ? beside : 0)) / 2;
  for (const Map& m : maps) {
    const double y = 2 + (f.h - below - 4 - m.h * scale) / 2;
    panel(d, m, x, y, scale);
    d.description +=
        capitalised(l.filln("{1}: {0} fault marked.", "{1}: {0} faults marked.",
                            static_cast<std::int64_t>(m.size()), part_words(check, m.plot->part, l))) +
        " ";
    const std::string name = m.plot->part.empty() ? l.tr("screen") : l.trc("screen", m.plot->part);
    d.add(Label{x + m.w * scale / 2, y + m.h * scale + f.text * 1.5, shown(name, 16), f.text, Anchor::middle,
                palette::soft_ink, false});
    x += m.w * scale + gap;
  }
  if (room)
    legend(d, signs, x, (f.h - below) / 2 - 0.85 * f.text * static_cast<double>(signs.size()), f.text);
  return d;
}
}  // namespace hb::sheet
