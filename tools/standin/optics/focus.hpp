/// A lens that a motor moves towards the chart and away. Dioptres are 1 / metres. Pure.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>

namespace hb::standin {
struct Focus {
  double far_dpt = 0, near_dpt = 0;  ///< between these it can be set; alike: it does not move
  double px_per_dpt = 0;             ///< blur (Gaussian sigma) for each dioptre beside the chart
  double off_dpt = 0;                ///< where it goes less where it was told to go
  double stuck = 0;  ///< 1: it stays at stuck_dpt; between: it goes so much less far from there
  double stuck_dpt = 0;
  std::optional<double> set_dpt = std::nullopt;  ///< nullopt: it focuses by itself
  friend bool operator==(const Focus&, const Focus&) = default;

  [[nodiscard]] bool moves() const noexcept { return near_dpt > far_dpt; }
  [[nodiscard]] double at(double told_dpt) const noexcept {
    const double wanted = told_dpt + off_dpt;
    return wanted + stuck * (stuck_dpt - wanted);
  }
  /// Blur of a chart so far away; by itself the lens goes as near to it as it can.
  [[nodiscard]] double blur_px(double chart_dpt) const noexcept {
    if (!moves()) return 0;
    const double there = set_dpt ? at(*set_dpt) : std::clamp(chart_dpt, at(far_dpt), at(near_dpt));
    return px_per_dpt * std::abs(there - chart_dpt);
  }
};
}  // namespace hb::standin
