#include "canvas.hpp"

#include <cairo-pdf.h>
#include <pango/pangocairo.h>

#include <numbers>

namespace hb::sheet {
namespace {
constexpr char kFamily[] = "Liberation Sans, DejaVu Sans, Noto Sans Arabic, Sans";

cairo_status_t append(void* to, const unsigned char* data, unsigned n) {
  static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), n);
  return CAIRO_STATUS_SUCCESS;
}

struct Unref {
  void operator()(void* object) const { g_object_unref(object); }
};
using LayoutPtr = std::unique_ptr<PangoLayout, Unref>;

double channel(Colour c, int shift) { return static_cast<double>((c >> shift) & 0xFFU) / 255.0; }

/// Metrics without hinting: the same layout on every machine with the same fonts.
LayoutPtr layout_for(cairo_t* cr, double size, bool bold) {
  LayoutPtr layout(pango_cairo_create_layout(cr));
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  PangoContext* context = pango_layout_get_context(layout.get());
  pango_cairo_context_set_font_options(context, options);
  pango_cairo_context_set_resolution(context, 72);
  pango_context_set_round_glyph_positions(context, FALSE);  // a unit is a whole point here
  cairo_font_options_destroy(options);
  PangoFontDescription* font = pango_font_description_new();
  pango_font_description_set_family_static(font, kFamily);
  pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
  pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description(layout.get(), font);
  pango_font_description_free(font);
  return layout;
}

void insert(PangoAttrList* list, PangoAttribute* a, std::size_t from, std::size_t to) {
  a->start_index = static_cast<guint>(from);
  a->end_index = static_cast<guint>(to);
  pango_attr_list_insert(list, a);
}

void set_runs(PangoLayout* layout, const std::vector<Run>& runs) {
  std::string all;
  PangoAttrList* attributes = pango_attr_list_new();
  for (const auto& r : runs) {
    const std::size_t from = all.size();
    all += r.text;
    const auto c = [&](int shift) { return static_cast<guint16>(((r.colour >> shift) & 0xFFU) * 257U); };
    insert(attributes, pango_attr_foreground_new(c(16), c(8), c(0)), from, all.size());
    if (r.bold) insert(attributes, pango_attr_weight_new(PANGO_WEIGHT_BOLD), from, all.size());
  }
  pango_layout_set_text(layout, all.data(), static_cast<int>(all.size()));
  pango_layout_set_attributes(layout, attributes);
  pango_attr_list_unref(attributes);
}
}  // namespace

Canvas::Canvas(double width, double height, const PdfFacts& facts)
    : rtl_(facts.right_to_left),
      surface_(cairo_pdf_surface_create_for_stream(append, &out_, width, height)),
      cr_(cairo_create(surface_)) {
  cairo_pdf_surface_restrict_to_version(surface_, CAIRO_PDF_VERSION_1_5);
  cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_TITLE, facts.title.c_str());
  cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_AUTHOR, facts.author.c_str());
  cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_CREATE_DATE, facts.created.c_str());
  cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_MOD_DATE, facts.created.c_str());
}

Canvas::~Canvas() {
  cairo_destroy(cr_);
  cairo_surface_destroy(surface_);
}

double Canvas::text(double x, double y, double w, const std::vector<Run>& runs, const TextStyle& style,
                    bool draw) {
  const LayoutPtr layout = layout_for(cr_, style.size, false);
  pango_layout_set_width(layout.get(), static_cast<int>(w * PANGO_SCALE));
  pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
  pango_layout_set_line_spacing(layout.get(), 1.06F);
  const bool at_right = (style.anchor == Anchor::end) != rtl_;
  pango_layout_set_alignment(layout.get(), style.anchor == Anchor::middle ? PANGO_ALIGN_CENTER
                                           : at_right                     ? PANGO_ALIGN_RIGHT
                                                                          : PANGO_ALIGN_LEFT);
  pango_layout_set_auto_dir(layout.get(), FALSE);
  pango_context_set_base_dir(pango_layout_get_context(layout.get()),
                             rtl_ ? PANGO_DIRECTION_RTL : PANGO_DIRECTION_LTR);
  pango_layout_context_changed(layout.get());
  set_runs(layout.get(), runs);
  int pw = 0, ph = 0;
  pango_layout_get_size(layout.get(), &pw, &ph);
  if (draw) {
    cairo_move_to(cr_, x, y);
    pango_cairo_show_layout(cr_, layout.get());
  }
  return static_cast<double>(ph) / PANGO_SCALE;
}

void Canvas::rule(double x, double y, double w, Colour colour, double width) {
  shape(Line{{{x, y}, {x + w, y}}, false, Pen{.fill = -1, .stroke = colour, .width = width, .dash = {}}});
}

Canvas::Tag::Tag(Canvas& canvas, const char* name) : cr_(canvas.cr_), name_(name) {
  if (name_) cairo_tag_begin(cr_, name_, nullptr);
}
Canvas::Tag::~Tag() {
  if (name_) cairo_tag_end(cr_, name_);
}

void Canvas::figure(const Drawing& drawing, double x, double y) {
  const Tag tag(*this, "Figure");
  figures_.push_back(drawing.title + (drawing.description.empty() ? "" : ". " + drawing.description));
  draw(drawing, x, y);
}

void Canvas::draw(const Drawing& drawing, double x, double y) {
  cairo_save(cr_);
  cairo_translate(cr_, x, y);
  for (const auto& s : drawing.shapes) std::visit([&](const auto& one) { shape(one); }, s);
  cairo_restore(cr_);
}

void Canvas::paint(const Pen& pen) {
  const auto set = [&](std::int64_t c) {
    const auto colour = static_cast<Colour>(c);
    cairo_set_source_rgb(cr_, channel(colour, 16), channel(colour, 8), channel(colour, 0));
  };
  if (pen.fill >= 0) {
    set(pen.fill);
    cairo_fill_preserve(cr_);
  }
  if (pen.stroke >= 0) {
    set(pen.stroke);
    cairo_set_line_width(cr_, pen.width);
    cairo_set_line_cap(cr_, pen.dash.empty() ? CAIRO_LINE_CAP_ROUND : CAIRO_LINE_CAP_BUTT);
    cairo_set_line_join(cr_, CAIRO_LINE_JOIN_ROUND);
    cairo_set_dash(cr_, pen.dash.data(), static_cast<int>(pen.dash.size()), 0);
    cairo_stroke_preserve(cr_);
  }
  cairo_new_path(cr_);
}

void Canvas::shape(const Box& b) {
  cairo_new_path(cr_);
  if (b.r <= 0) {
    cairo_rectangle(cr_, b.x, b.y, b.w, b.h);
  } else {
    constexpr double q = std::numbers::pi / 2;
    cairo_arc(cr_, b.x + b.w - b.r, b.y + b.r, b.r, -q, 0);
    cairo_arc(cr_, b.x + b.w - b.r, b.y + b.h - b.r, b.r, 0, q);
    cairo_arc(cr_, b.x + b.r, b.y + b.h - b.r, b.r, q, 2 * q);
    cairo_arc(cr_, b.x + b.r, b.y + b.r, b.r, 2 * q, 3 * q);
    cairo_close_path(cr_);
  }
  paint(b.pen);
}

void Canvas::shape(const Disc& d) {
  cairo_new_path(cr_);
  cairo_arc(cr_, d.x, d.y, d.r, 0, 2 * std::numbers::pi);
  paint(d.pen);
}

void Canvas::shape(const Line& l) {
  cairo_new_path(cr_);
  for (const auto& p : l.points) cairo_line_to(cr_, p.x, p.y);
  if (l.closed) cairo_close_path(cr_);
  paint(l.pen);
}

void Canvas::shape(const Label& l) {
  const LayoutPtr layout = layout_for(cr_, l.size, l.bold);
  set_runs(layout.get(), {{l.text, l.bold, l.colour}});
  int pw = 0, ph = 0;
  pango_layout_get_size(layout.get(), &pw, &ph);
  const double w = static_cast<double>(pw) / PANGO_SCALE;
  const double base = static_cast<double>(pango_layout_get_baseline(layout.get())) / PANGO_SCALE;
  const double left = l.anchor == Anchor::start ? l.x : l.anchor == Anchor::middle ? l.x - w / 2 : l.x - w;
  cairo_move_to(cr_, left, l.y - base);
  pango_cairo_show_layout(cr_, layout.get());
}

Result<std::string> Canvas::finish() {
  cairo_show_page(cr_);
  cairo_surface_finish(surface_);
  const cairo_status_t status =
      cairo_status(cr_) != CAIRO_STATUS_SUCCESS ? cairo_status(cr_) : cairo_surface_status(surface_);
  if (status != CAIRO_STATUS_SUCCESS)
    return Error{ErrorCode::internal,
                 std::string("the page could not be drawn: ") + cairo_status_to_string(status), "sheet",
                 "Check that at least one font is installed."};
  return std::move(out_);
}
}  // namespace hb::sheet
