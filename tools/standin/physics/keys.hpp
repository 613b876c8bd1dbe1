/// One side key: a finger on it, and what the contact below makes of that.
/// Threads: a plain value type.
#pragma once

#include <cstdint>
#include <optional>

#include "tools/standin/physics/noise.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
class KeySwitch {
 public:
  KeySwitch(KeyUnit unit, std::uint64_t seed);
  /// Called every 5 ms. The new state of the contact when it changed.
  [[nodiscard]] std::optional<bool> sample(std::int64_t t_us, bool finger);
  [[nodiscard]] bool down() const noexcept { return down_; }
  [[nodiscard]] const KeyUnit& unit() const noexcept { return unit_; }

 private:
  KeyUnit unit_;
  Noise noise_;
  bool finger_ = false, down_ = false;
  std::int64_t pressed_us_ = 0;
  std::uint64_t presses_ = 0;
};
}  // namespace hb::standin
