#include "checks/kernel/decide.hpp"

#include <cmath>

namespace hb::kernel {
namespace {
double phi(double z) noexcept { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }
}  // namespace

Decided decide(double value, double u, std::optional<double> lower, std::optional<double> upper) noexcept {
  Decided d;
  if (!std::isfinite(value) || !std::isfinite(u) || u < 0) return d;
  d.guard_band = kGuardFactor * u;
  double outside = 0;
  bool inside = true, beyond = false;
  if (lower) {
    outside += u > 0 ? phi((*lower - value) / u) : (value < *lower ? 1.0 : 0.0);
    inside = inside && value >= *lower + d.guard_band;
    beyond = beyond || value < *lower - d.guard_band;
  }
  if (upper) {
    outside += u > 0 ? phi((value - *upper) / u) : (value > *upper ? 1.0 : 0.0);
    inside = inside && value <= *upper - d.guard_band;
    beyond = beyond || value > *upper + d.guard_band;
  }
  d.outside_probability = outside < 1 ? outside : 1;
  d.decision = beyond ? Decision::reject : inside ? Decision::accept : Decision::open;
  return d;
}
}  // namespace hb::kernel
