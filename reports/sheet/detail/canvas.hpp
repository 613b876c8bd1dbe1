/// One PDF page to draw on: Cairo for shapes, Pango for text. Lengths in points. A text call with draw =
/// false only measures, so that a layout can be tried before anything is painted. Threads: one object, one
/// thread at a time. Owns its surface.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "drawing.hpp"

struct _cairo;
struct _cairo_surface;

namespace hb::sheet {

struct Run {
  std::string text;
  bool bold = false;
  Colour colour = palette::ink;
};
struct TextStyle {
  double size = 9;
  Anchor anchor = Anchor::start;
  int max_lines = 0;  ///< 0: as many as it needs; else the last one ends in an ellipsis
};
struct PdfFacts {
  std::string title, author, created;  ///< created: RFC 3339
  bool right_to_left = false;          ///< paragraphs run from the right; their start is there
};

class Canvas {
 public:
  Canvas(double width, double height, const PdfFacts& facts);
  ~Canvas();
  Canvas(const Canvas&) = delete;
  Canvas& operator=(const Canvas&) = delete;

  /// Wraps at words, inside a word where it must. Returns the height used.
  double text(double x, double y, double w, const std::vector<Run>& runs, const TextStyle& style, bool draw);
  void draw(const Drawing& drawing, double x, double y);
  void box(const Box& box) { draw(Drawing{0, 0, {}, {}, {box}}, 0, 0); }
  void rule(double x, double y, double w, Colour colour, double width);

  /// Ends the page. The PDF's bytes; internal when Cairo failed.
  [[nodiscard]] Result<std::string> finish();

 private:
  void paint(const Pen& pen);
  void shape(const Box& b);
  void shape(const Disc& d);
  void shape(const Line& l);
  void shape(const Label& l);
  std::string out_;
  bool rtl_;
  _cairo_surface* surface_;
  _cairo* cr_;
};

}  // namespace hb::sheet
