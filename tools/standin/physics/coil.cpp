#include "tools/standin/physics/coil.hpp"

#include <algorithm>
#include <cmath>

namespace hb::standin {

double Coil::power_factor(double offset_mm) noexcept {
  const double x = offset_mm / 6;
  return std::exp(-x * x);
}

void Coil::step(double dt_s, bool on_pad, double shift_mm) {
  factor_ = power_factor(unit_.misplaced_mm + std::abs(shift_mm));
  if (!on_pad || unit_.open || factor_ < 0.25) {
    coupled_ = false, handshake_s_ = 0;
    if (!on_pad) again_ = false, out_s_ = 0;
    return;
  }
  if (out_s_ > 0) {
    out_s_ -= dt_s;
    return;
  }
  if (!coupled_) {
    handshake_s_ += dt_s;
    if (handshake_s_ < (again_ ? 1.0 : unit_.couple_s / factor_)) return;
    coupled_ = again_ = true;
    handshake_s_ = 0;
    until_dropout_s_ = unit_.dropout_every_s * noise_.uniform(dropouts_, 0.6, 1.4);
    return;
  }
  if (unit_.dropout_every_s <= 0) return;
  until_dropout_s_ -= dt_s;
  if (until_dropout_s_ > 0) return;
  coupled_ = false;
  out_s_ = 1.2;
  ++dropouts_;
}

double Coil::rail_w(double body_c) const noexcept {
  if (!coupled_) return 0;
  const double throttle = std::clamp(1 - 0.7 * (body_c - 40) / 6, 0.3, 1.0);
  return unit_.rail_w * factor_ * throttle;
}
}  // namespace hb::standin
