/// Accelerometer and gyroscope: an event each 20 ms, the last ten kept as the platform does.
/// The accelerometer of a phone at rest reads +g along the axis that points up (AOSP sensor types: it
/// measures the push of the table). Threads: a plain value type.
#pragma once

#include <array>
#include <cstdint>
#include <deque>

#include "tools/standin/physics/noise.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
using Axes = std::array<double, 3>;

struct MotionEvent {
  std::int64_t t_us = 0;  ///< simulated time
  Axes value{};           ///< m/s^2 or rad/s
};

class MotionSensors {
 public:
  static constexpr std::int64_t kPeriod_us = 20'000;
  static constexpr std::size_t kRing = 10;
  static constexpr double kGravity_ms2 = 9.81;  ///< of the bench's place

  /// The phone has lain screen up for a while.
  MotionSensors(MotionUnit unit, std::uint64_t seed);
  /// Called once a period. `up`: unit vector of what points up, in the phone's axes; `turn_rad_s`: its
  /// rotation; `shake_ms2`: what a motor adds at this moment.
  void sample(std::int64_t t_us, const Axes& up, const Axes& turn_rad_s, double shake_ms2 = 0);
  [[nodiscard]] const std::deque<MotionEvent>& accelerometer() const noexcept { return accelerometer_; }
  [[nodiscard]] const std::deque<MotionEvent>& gyroscope() const noexcept { return gyroscope_; }

 private:
  MotionUnit unit_;
  Noise accelerometer_noise_, gyroscope_noise_;
  std::deque<MotionEvent> accelerometer_, gyroscope_;
};
}  // namespace hb::standin
