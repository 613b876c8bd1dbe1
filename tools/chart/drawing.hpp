/// The bench's chart for printing (checks/cameras/chart.hpp): ground, tiles and trap as sRGB greys of the
/// reflectances that the check takes them for (IEC 61966-2-1), 4 % of the height more ground on all sides,
/// and one line of text below. Threads: any, one drawing each.
#pragma once

#include <string>

#include "checks/cameras/chart.hpp"
#include "harness/base/result.hpp"

namespace hb::chart {
struct Paper {
  double width_mm = 297, height_mm = 210;  ///< landscape
};
/// "a4", "a3", "letter"; invalid_argument for any other word.
[[nodiscard]] Result<Paper> paper_named(const std::string& name);
/// Height of the chart itself, as large as the paper allows with 8 mm at each border and room for the text.
[[nodiscard]] double chart_height_mm(const checks::camera::Chart& chart, Paper paper) noexcept;
/// Writes FILE.pdf (vectors) or FILE.png (`dots_per_inch`). invalid_argument: another ending; io: cannot
/// write.
[[nodiscard]] Result<void> draw(const checks::camera::Chart& chart, Paper paper, const std::string& file,
                                double dots_per_inch = 300);
}  // namespace hb::chart
