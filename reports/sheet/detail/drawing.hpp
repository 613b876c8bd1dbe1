/// A picture as a list of vector shapes, drawn alike as SVG and on a Cairo page. Lengths in points (1/72 in),
/// y down, origin at the top left. Value types.
#pragma once

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include "language.hpp"
#include "view.hpp"

namespace hb::sheet {

/// 0xRRGGBB.
using Colour = std::uint32_t;

/// The house palette. Every text colour has a contrast of at least 4.5 : 1 on white and on its own tint (WCAG
/// 2.1, 1.4.3); lightness alone tells answered from dead, and one line from the next.
namespace palette {
inline constexpr Colour ink = 0x1b2830, soft_ink = 0x4c5a63, rule = 0xc9cfc9, paper = 0xffffff,
                        sand = 0xf5f2ea, petrol = 0x0d565e, petrol_light = 0xbfd9d6, petrol_tint = 0xe8f1ef,
                        amber = 0x7d5200, amber_tint = 0xfaf0d7, brick = 0x9c2a1f, brick_tint = 0xf9e7e3,
                        slate = 0x4d5963, slate_tint = 0xebeef0, plum = 0x5d3f6b, plum_tint = 0xf0eaf3;
}  // namespace palette

[[nodiscard]] Colour strong(Outcome o) noexcept;
[[nodiscard]] Colour tint(Outcome o) noexcept;

struct Pen {
  std::int64_t fill = -1, stroke = -1;  ///< a Colour, or -1 for none
  double width = 0.8;
  std::vector<double> dash;
};
struct Box {
  double x = 0, y = 0, w = 0, h = 0, r = 0;
  Pen pen;
};
struct Disc {
  double x = 0, y = 0, r = 0;
  Pen pen;
};
struct Point {
  double x = 0, y = 0;
};
struct Line {
  std::vector<Point> points;
  bool closed = false;
  Pen pen;
};
enum class Anchor { start, middle, end };
struct Label {
  double x = 0, y = 0;  ///< baseline
  std::string text;
  double size = 7;
  Anchor anchor = Anchor::start;
  Colour colour = palette::ink;
  bool bold = false;
};
using Shape = std::variant<Box, Disc, Line, Label>;

struct Drawing {
  double w = 0, h = 0;
  std::string title, description;  ///< the text for those who do not see it
  std::vector<Shape> shapes;
  template <class S>
  void add(S shape) {
    shapes.emplace_back(std::move(shape));
  }
};

/// The mark of an outcome, centred in a square of `size`: a disc with a tick, a triangle with '!', an octagon
/// with a cross, a dashed ring with a bar, a diamond with a wave. Told apart by outline alone.
/// Without a title: whoever places it says the word.
[[nodiscard]] Drawing outcome_mark(Outcome o, double size);

/// A QR code of `text`, dark modules joined to horizontal runs, inside its quiet zone of four
/// modules (ISO/IEC 18004). Errors: invalid_argument when the text is empty or does not fit.
[[nodiscard]] Result<Drawing> qr_code(const std::string& text, double size, const Language& l);

/// Inline SVG. `id` must be unique in the page; a drawing without a title is hidden from screen readers.
[[nodiscard]] std::string svg(const Drawing& drawing, const std::string& id, const std::string& css_class);

}  // namespace hb::sheet
