#include "tools/chart/drawing.hpp"

#include <cairo-pdf.h>
#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>

#include "checks/kernel/srgb.hpp"

namespace hb::chart {
namespace {
using checks::camera::Chart;
using Points = std::array<kernel::Point, 4>;
constexpr double kBorder_mm = 8, kText_mm = 7, kMargin = 0.04;

struct Pen {
  cairo_t* c;
  double cx_mm, cy_mm, height_mm;
  void grey(double reflectance) const {
    const double g = kernel::srgb_encode(reflectance);
    cairo_set_source_rgb(c, g, g, g);
  }
  void fill(const Points& corners, double reflectance) const {
    grey(reflectance);
    for (const auto& p : corners) cairo_line_to(c, cx_mm + p.x * height_mm, cy_mm + p.y * height_mm);
    cairo_close_path(c);
    cairo_fill(c);
  }
};
Points rectangle(double x, double y, double w, double h) {
  return {{{x - w / 2, y - h / 2}, {x + w / 2, y - h / 2}, {x + w / 2, y + h / 2}, {x - w / 2, y + h / 2}}};
}

/// In millimetres.
void paint(cairo_t* c, const Chart& chart, Paper paper) {
  cairo_set_source_rgb(c, 1, 1, 1);
  cairo_paint(c);
  const double height = chart_height_mm(chart, paper);
  const Pen pen{c, paper.width_mm / 2, (paper.height_mm - kText_mm) / 2, height};
  pen.fill(rectangle(0, 0, chart.aspect + 2 * kMargin, 1 + 2 * kMargin), chart.ground);
  for (std::size_t k = 0; k < 5; ++k) pen.fill(checks::camera::corners(chart, k), chart.tile);
  const auto trap = checks::camera::position(chart, chart.trap_x, chart.trap_y);
  pen.fill(rectangle(trap.x, trap.y, chart.trap_side, chart.trap_side), 0);
  cairo_set_source_rgb(c, 0, 0, 0);
  cairo_select_font_face(c, "sans-serif", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(c, 3);
  cairo_move_to(c, kBorder_mm, paper.height_mm - 5);
  const auto text = fmt::format(
      "Camera chart: {:.1f} mm high. Print at 100 % on matt paper; the black square is a hole into a box "
      "lined "
      "with black, or black velvet.",
      height);
  cairo_show_text(c, text.c_str());
}

Error bad(ErrorCode code, const char* what, const std::string& where, const char* next) {
  return {code, what, where, next};
}
using Surface = std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)>;
using Context = std::unique_ptr<cairo_t, void (*)(cairo_t*)>;
}  // namespace

Result<Paper> paper_named(const std::string& name) {
  if (name == "a4") return Paper{297, 210};
  if (name == "a3") return Paper{420, 297};
  if (name == "letter") return Paper{279.4, 215.9};
  return bad(ErrorCode::invalid_argument, "this paper is not known", "paper", "Write a4, a3 or letter.");
}

double chart_height_mm(const Chart& chart, Paper paper) noexcept {
  return std::min((paper.width_mm - 2 * kBorder_mm) / (chart.aspect + 2 * kMargin),
                  (paper.height_mm - 2 * kBorder_mm - kText_mm) / (1 + 2 * kMargin));
}

Result<void> draw(const Chart& chart, Paper paper, const std::string& file, double dots_per_inch) {
  const bool pdf = file.ends_with(".pdf"), png = file.ends_with(".png");
  if (!pdf && !png)
    return bad(ErrorCode::invalid_argument, "a chart is a PDF or a PNG file", "file",
               "Give a name that ends in .pdf or .png.");
  const double unit = (pdf ? 72.0 : dots_per_inch) / 25.4;
  const double w = paper.width_mm * unit, h = paper.height_mm * unit;
  const Surface surface(pdf ? cairo_pdf_surface_create(file.c_str(), w, h)
                            : cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(std::lround(w)),
                                                         static_cast<int>(std::lround(h))),
                        cairo_surface_destroy);
  const Context c(cairo_create(surface.get()), cairo_destroy);
  cairo_scale(c.get(), unit, unit);
  paint(c.get(), chart, paper);
  cairo_status_t status = cairo_status(c.get());
  if (status == CAIRO_STATUS_SUCCESS && png) status = cairo_surface_write_to_png(surface.get(), file.c_str());
  cairo_surface_finish(surface.get());
  if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface.get());
  if (status != CAIRO_STATUS_SUCCESS)
    return bad(ErrorCode::io, "the chart could not be written", file, "Look at the folder and its space.");
  return {};
}
}  // namespace hb::chart
