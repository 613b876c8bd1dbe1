/// The decision rule: a measured value with standard uncertainty against a tolerance interval.
/// Guarded acceptance and guarded rejection (JCGM 106:2012 section 8; ISO 14253-1): the guard band is
/// g = k u with k = 1.645 (one-sided 95 %), so inside by g is accept, outside by g is reject, between is
/// open. Units: all arguments share the measure's unit. u >= 0; u = 0 (an exact count) makes g = 0 and leaves
/// nothing open. Pure; any thread.
#pragma once

#include <optional>

namespace hb::kernel {
enum class Decision { accept, open, reject };
struct Decided {
  Decision decision = Decision::reject;
  double guard_band = 0;
  /// P(true value outside the interval | this measurement), normal, flat prior (JCGM 106:2012 7.3.2).
  double outside_probability = 1;
};
inline constexpr double kGuardFactor = 1.645;
[[nodiscard]] Decided decide(double value, double u, std::optional<double> lower,
                             std::optional<double> upper) noexcept;
}  // namespace hb::kernel
