#include "tools/standin/physics/hinge.hpp"

#include <algorithm>
#include <cmath>

namespace hb::standin {
namespace {
constexpr double kSwitchClosed_deg = 25, kSwitchOpen_deg = 150, kSwitchHalfWidth_deg = 1.5;
constexpr double kOnChange_deg = 0.1;

Fold next_fold(Fold now, double deg) noexcept {
  const auto above = [deg](double at, bool was) {
    return deg > at + (was ? -kSwitchHalfWidth_deg : kSwitchHalfWidth_deg);
  };
  if (above(kSwitchOpen_deg, now == Fold::opened)) return Fold::opened;
  return above(kSwitchClosed_deg, now != Fold::closed) ? Fold::half_opened : Fold::closed;
}
}  // namespace

HingeSensor::HingeSensor(HingeUnit unit, std::uint64_t seed, double start_deg)
    : unit_(unit),
      noise_(seed, "hinge noise"),
      play_deg_(start_deg - unit.play_deg / 2),
      fold_(next_fold(Fold::half_opened, start_deg)) {}

void HingeSensor::sample(std::int64_t t_us, double true_deg) {
  const double half = unit_.play_deg / 2;
  play_deg_ = std::clamp(play_deg_, true_deg - half, true_deg + half);
  const double told = play_deg_ + unit_.offset_deg;
  const bool silent = true_deg > unit_.silent_from_deg && true_deg < unit_.silent_to_deg;
  if (silent) return;
  fold_ = next_fold(fold_, told);
  const auto n = static_cast<std::uint64_t>(t_us / kPeriod_us);
  const double deg = std::round(100 * (told + unit_.noise_deg * noise_.gauss(n))) / 100;
  if (unit_.silent || std::abs(deg - last_deg_) < kOnChange_deg) return;
  last_deg_ = deg;
  recent_.push_back({t_us, deg});
  if (recent_.size() > kRing) recent_.pop_front();
}
}  // namespace hb::standin
