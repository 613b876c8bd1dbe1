#include "tools/standin/physics/port.hpp"

#include <algorithm>
#include <cmath>

namespace hb::standin {
namespace {
constexpr double kLost_s = 0.6;  // a contact that was lost stays so for this long
}

void Port::step(double dt_s, int side, bool wiggled, double most_w) noexcept {
  if (side != side_) wiggled_s_ = 0;
  side_ = side;
  if (wiggled) wiggled_s_ += dt_s;
  const double phase = unit_.lost_every_s > 0 ? std::fmod(wiggled_s_, unit_.lost_every_s) : 0;
  const bool lost = wiggled && unit_.lost_every_s > 0 && phase > unit_.lost_every_s - kLost_s;
  const bool on = side != 0 && side != unit_.dead_side && !lost;
  since_s_ = on && online_ ? since_s_ + dt_s : 0;
  online_ = on;
  if (!on) {
    current_a_ = 0;
    return;
  }
  const double rising = kFirst_a + (kRated_a - kFirst_a) * std::min(1.0, since_s_ / kRise_s);
  const double held = unit_.resistance_ohm > 0 ? (kOpen_v - kLeast_v) / unit_.resistance_ohm : kRated_a;
  current_a_ = std::min({rising, held, most_w / (kOpen_v * kEfficiency)});
}

const char* Port::speed() const noexcept {
  if (!online_) return "UNKNOWN";
  return side_ == unit_.slow_side ? "high-speed" : "super-speed";
}
}  // namespace hb::standin
