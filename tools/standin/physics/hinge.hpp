/// The hinge-angle sensor and the fold logic behind it.
/// Reported = true angle through a play operator (backlash of full width play_deg) + offset + noise; events
/// on change, at most 50 a second, the last ten kept as the platform does. Degrees, 0 closed, 180 flat.
/// Threads: a plain value type.
#pragma once

#include <cstdint>
#include <deque>

#include "tools/standin/physics/noise.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
struct HingeEvent {
  std::int64_t t_us = 0;  ///< simulated time
  double deg = 0;
};
enum class Fold { closed = 0, half_opened = 1, opened = 2 };  ///< value = the phone's own identifier

class HingeSensor {
 public:
  static constexpr std::int64_t kPeriod_us = 20'000;
  static constexpr std::size_t kRing = 10;

  HingeSensor(HingeUnit unit, std::uint64_t seed, double start_deg);
  /// Called once a period.
  void sample(std::int64_t t_us, double true_deg);
  [[nodiscard]] const std::deque<HingeEvent>& recent() const noexcept { return recent_; }  ///< oldest first
  [[nodiscard]] Fold fold() const noexcept { return fold_; }
  [[nodiscard]] const HingeUnit& unit() const noexcept { return unit_; }

 private:
  HingeUnit unit_;
  Noise noise_;
  double play_deg_;  ///< output of the play operator
  double last_deg_ = -1000;
  Fold fold_;
  std::deque<HingeEvent> recent_;
};
}  // namespace hb::standin
