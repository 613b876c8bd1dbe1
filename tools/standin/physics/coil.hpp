/// Coupling of the phone's charging coil with a pad.
/// Power factor by lateral offset d: exp(-(d / 6 mm)^2), lost below 0.25; the handshake takes longer when the
/// coupling is weak (a simple stand-in for a real coil's field; common practice, no source).
/// Threads: a plain value type.
#pragma once

#include <cstdint>

#include "tools/standin/physics/noise.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
class Coil {
 public:
  Coil(CoilUnit unit, std::uint64_t seed) : unit_(unit), noise_(seed, "coil drop-outs") {}
  /// `shift_mm`: how far the phone was pushed off the pad's centre, in the direction of its own misplacement.
  void step(double dt_s, bool on_pad, double shift_mm);
  [[nodiscard]] bool coupled() const noexcept { return coupled_; }
  /// Power that reaches the battery rail at body temperature `body_c`: throttled from 40 C, to 30 % at 46 C.
  [[nodiscard]] double rail_w(double body_c) const noexcept;
  [[nodiscard]] static double power_factor(double offset_mm) noexcept;

 private:
  CoilUnit unit_;
  Noise noise_;
  bool coupled_ = false;
  double factor_ = 0;
  double handshake_s_ = 0;  ///< time spent shaking hands
  double until_dropout_s_ = 0;
  double out_s_ = 0;    ///< left of a drop-out
  bool again_ = false;  ///< a repeated handshake with the same pad is short
  std::uint64_t dropouts_ = 0;
};
}  // namespace hb::standin
