#include <fmt/format.h>

#include "drawing.hpp"
#include "html.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
std::string n(double v) {
  std::string s = fixed(v, 2);
  while (s.ends_with('0')) s.pop_back();
  if (s.ends_with('.')) s.pop_back();
  return s;
}

std::string colour(std::int64_t c) { return c < 0 ? "none" : fmt::format("#{:06x}", c); }

std::string pen(const Pen& p) {
  std::string s = fmt::format(" fill=\"{}\"", colour(p.fill));
  if (p.stroke < 0) return s;
  s += fmt::format(" stroke=\"{}\" stroke-width=\"{}\"", colour(p.stroke), n(p.width));
  if (!p.dash.empty()) {
    s += " stroke-dasharray=\"";
    for (std::size_t i = 0; i < p.dash.size(); ++i) s += (i ? " " : "") + n(p.dash[i]);
    s += '"';
  } else {
    s += " stroke-linecap=\"round\" stroke-linejoin=\"round\"";
  }
  return s;
}

std::string out(const Box& b) {
  const std::string round = b.r > 0 ? fmt::format(" rx=\"{}\"", n(b.r)) : "";
  return fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"{}{}/>", n(b.x), n(b.y), n(b.w),
                     n(b.h), round, pen(b.pen));
}
std::string out(const Disc& d) {
  return fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{}/>", n(d.x), n(d.y), n(d.r), pen(d.pen));
}
std::string out(const Line& l) {
  std::string points;
  for (const auto& p : l.points) points += (points.empty() ? "" : " ") + n(p.x) + "," + n(p.y);
  return fmt::format("<{0} points=\"{1}\"{2}/>", l.closed ? "polygon" : "polyline", points, pen(l.pen));
}
std::string out(const Label& l) {
  const char* anchor = l.anchor == Anchor::start ? "start" : l.anchor == Anchor::middle ? "middle" : "end";
  return fmt::format("<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{}\" fill=\"{}\"{}>{}</text>",
                     n(l.x), n(l.y), n(l.size), anchor, colour(l.colour),
                     l.bold ? " font-weight=\"700\"" : "", escaped(l.text));
}

/// A QR code or a touch map is hundreds of rectangles of one colour: one path says the same in a quarter.
std::string runs(const std::vector<Shape>& shapes, std::size_t& i) {
  const auto plain = [&](std::size_t k) -> const Box* {
    const Box* b = k < shapes.size() ? std::get_if<Box>(&shapes[k]) : nullptr;
    return b && b->r <= 0 && b->pen.stroke < 0 ? b : nullptr;
  };
  const Box* first = plain(i);
  const Box* next = plain(i + 1);
  if (!first || !next || next->pen.fill != first->pen.fill) return {};
  std::string path;
  for (const Box* b = first; b && b->pen.fill == first->pen.fill; b = plain(++i))
    path += fmt::format("M{} {}h{}v{}h{}z", n(b->x), n(b->y), n(b->w), n(b->h), n(-b->w));
  --i;
  return fmt::format("<path d=\"{}\"{}/>", path, pen(first->pen));
}
}  // namespace

std::string svg(const Drawing& d, const std::string& id, const std::string& css_class) {
  std::string s = fmt::format("<svg class=\"{}\" viewBox=\"0 0 {} {}\"", css_class, n(d.w), n(d.h));
  if (d.title.empty()) {
    s += " aria-hidden=\"true\">";
  } else {
    const bool more = !d.description.empty();
    s += fmt::format(" role=\"img\" aria-labelledby=\"{0}-t{1}\"><title id=\"{0}-t\">{2}</title>", id,
                     more ? fmt::format(" {}-d", id) : "", escaped(d.title));
    if (more) s += fmt::format("<desc id=\"{}-d\">{}</desc>", id, escaped(d.description));
  }
  for (std::size_t i = 0; i < d.shapes.size(); ++i) {
    const std::string joined = runs(d.shapes, i);
    s += joined.empty() ? std::visit([](const auto& shape) { return out(shape); }, d.shapes[i]) : joined;
  }
  return s + "</svg>";
}
}  // namespace hb::sheet
