#include "tools/standin/physics/keys.hpp"

namespace hb::standin {
KeySwitch::KeySwitch(KeyUnit unit, std::uint64_t seed)
    : unit_(std::move(unit)), noise_(seed, "key " + unit_.spec.part), down_(unit_.stuck) {}

std::optional<bool> KeySwitch::sample(std::int64_t t_us, bool finger) {
  if (finger && !finger_) pressed_us_ = t_us, ++presses_;
  finger_ = finger;
  bool contact = finger;
  // A worn contact opens twice, for 10 ms each, in the first 40 ms of a press.
  const auto since_us = t_us - pressed_us_;
  const bool chatter_time = since_us < 40'000 && since_us / 10'000 % 2 == 1;
  if (chatter_time && noise_.uniform(presses_) < unit_.bounces) contact = false;
  if (unit_.open) contact = false;
  if (unit_.stuck) contact = true;
  if (contact == down_) return std::nullopt;
  down_ = contact;
  return down_;
}
}  // namespace hb::standin
