#include "tools/standin/physics/motion.hpp"

#include <numbers>

namespace hb::standin {
namespace {
constexpr double kRadPerDeg = std::numbers::pi / 180;

void keep(std::deque<MotionEvent>& ring, MotionEvent e) {
  ring.push_back(e);
  if (ring.size() > MotionSensors::kRing) ring.pop_front();
}
}  // namespace

MotionSensors::MotionSensors(MotionUnit unit, std::uint64_t seed)
    : unit_(unit), accelerometer_noise_(seed, "accelerometer"), gyroscope_noise_(seed, "gyroscope") {
  for (std::int64_t i = static_cast<std::int64_t>(kRing); i > 0; --i)
    sample(-i * kPeriod_us, {0, 0, 1}, {0, 0, 0});
}

void MotionSensors::sample(std::int64_t t_us, const Axes& up, const Axes& turn_rad_s, double shake_ms2) {
  constexpr Axes along{0.8, 0, 0.6};  // the motor lies across the phone, tilted
  const auto n = 3 * static_cast<std::uint64_t>(t_us / kPeriod_us + 1000);
  MotionEvent a{t_us, {}}, w{t_us, {}};
  for (std::size_t i = 0; i < 3; ++i) {
    const double felt =
        unit_.dead[i] ? 0
                      : unit_.scale[i] * (kGravity_ms2 * up[i] + shake_ms2 * along[i]) + unit_.offset_ms2[i];
    a.value[i] = felt + unit_.noise_ms2 * accelerometer_noise_.gauss(n + i);
    w.value[i] = turn_rad_s[i] +
                 kRadPerDeg * (unit_.bias_deg_s[i] + unit_.noise_deg_s * gyroscope_noise_.gauss(n + i));
  }
  keep(accelerometer_, a);
  keep(gyroscope_, w);
}
}  // namespace hb::standin
