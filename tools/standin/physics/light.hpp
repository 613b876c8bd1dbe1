/// The light sensor: an event each 200 ms, the last ten kept as the platform does. Threads: a plain value
/// type.
#pragma once

#include <algorithm>
#include <cstdint>
#include <deque>

#include "tools/standin/physics/noise.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
struct LightEvent {
  std::int64_t t_us = 0;  ///< simulated time
  double lux = 0;
};

class LightSensor {
 public:
  static constexpr std::int64_t kPeriod_us = 200'000;
  static constexpr std::size_t kRing = 10;
  static constexpr double kFinger = 0.01;  ///< share of the light that comes through a finger

  LightSensor(SmallSensorsUnit unit, std::uint64_t seed) : unit_(unit), noise_(seed, "light") {}
  void sample(std::int64_t t_us, bool covered) {
    const double lux = unit_.room_lux * unit_.transmission * (covered ? kFinger : 1.0);
    const auto n = static_cast<std::uint64_t>(t_us / kPeriod_us);
    recent_.push_back({t_us, std::max(0.0, lux * (1 + 0.02 * noise_.gauss(n)))});
    if (recent_.size() > kRing) recent_.pop_front();
  }
  [[nodiscard]] const std::deque<LightEvent>& recent() const noexcept { return recent_; }

 private:
  SmallSensorsUnit unit_;
  Noise noise_;
  std::deque<LightEvent> recent_;
};
}  // namespace hb::standin
