/// The charging port with the bench's charger in it: 5.10 V behind cable and contacts, 3 A at most. The phone
/// raises its current over two seconds and holds the port at 4.45 V or more, as charger chips do (common
/// practice, no source). Threads: a plain value type.
#pragma once

#include <cstdint>

#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
class Port {
 public:
  static constexpr double kOpen_v = 5.10, kLeast_v = 4.45, kRated_a = 3, kFirst_a = 0.5, kRise_s = 2;
  static constexpr double kEfficiency = 0.88;

  explicit Port(PortUnit unit) noexcept : unit_(unit) {}
  /// `side`: 0 no charger plugged in, 1 or 2 which way round; `most_w`: what the phone can take at most.
  void step(double dt_s, int side, bool wiggled, double most_w) noexcept;
  [[nodiscard]] bool online() const noexcept { return online_; }
  [[nodiscard]] double current_a() const noexcept { return current_a_; }
  [[nodiscard]] double voltage_v() const noexcept {
    return online_ ? kOpen_v - current_a_ * unit_.resistance_ohm : 0;
  }
  [[nodiscard]] double rail_w() const noexcept { return voltage_v() * current_a_ * kEfficiency; }
  /// As the kernel words it; "UNKNOWN" without a link.
  [[nodiscard]] const char* speed() const noexcept;

 private:
  PortUnit unit_;
  int side_ = 0;
  bool online_ = false;
  double current_a_ = 0, since_s_ = 0, wiggled_s_ = 0;
};
}  // namespace hb::standin
