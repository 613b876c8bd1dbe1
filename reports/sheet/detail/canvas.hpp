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
  /// One that only decorates: no part of the page's structure.
  void draw(const Drawing& drawing, double x, double y);
  /// One that tells something: its title and description stand for it.
  void figure(const Drawing& drawing, double x, double y);

  /// While it lives, what is painted belongs to a structure element of this standard type (ISO 32000-1,
  /// 14.8.4); null: to none. Nest them like brackets.
  class Tag {
   public:
    Tag(Canvas& canvas, const char* name);
    ~Tag();
    Tag(const Tag&) = delete;
    Tag& operator=(const Tag&) = delete;

   private:
    _cairo* cr_;
    const char* name_;
  };
  /// The words that stand for the figures, in their order. For structured(): Cairo 1.16 writes none.
  [[nodiscard]] const std::vector<std::string>& figure_words() const { return figures_; }
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
  std::vector<std::string> figures_;
  bool rtl_;
  _cairo_surface* surface_;
  _cairo* cr_;
};

}  // namespace hb::sheet
