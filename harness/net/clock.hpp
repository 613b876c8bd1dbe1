/// Bench time as an argument. Checks wait with a Clock, never with a timer, so that a test or an automatic
/// fixture can drive time faster than the wall's; what kind of time a run had is written in its record.
/// Threads: used on the strand of its run only.
#pragma once

#include <chrono>
#include <cstdint>

#include "harness/base/gate.hpp"
#include "harness/net/awaitable.hpp"

namespace hb::net {

/// Nanoseconds since an arbitrary start, on the bench's time.
using BenchTime = std::chrono::nanoseconds;

class Clock {
 public:
  virtual ~Clock() = default;
  [[nodiscard]] virtual BenchTime now() const = 0;
  /// Lets at least `d` of bench time pass. Errors: cancelled; link_lost when a fixture keeps the time.
  [[nodiscard]] virtual awaitable<Result<void>> wait(std::chrono::milliseconds d) = 0;
  /// Whether wait() itself moves the time (a fixture that steps), so that nothing happens between waits.
  [[nodiscard]] virtual bool moved_by_waiting() const { return false; }
  /// "wall", or how the time was made: goes into the record.
  [[nodiscard]] virtual Term kind() const = 0;
};

/// The wall's time: std::chrono::steady_clock.
class WallClock final : public Clock {
 public:
  [[nodiscard]] BenchTime now() const override;
  [[nodiscard]] awaitable<Result<void>> wait(std::chrono::milliseconds d) override;
  [[nodiscard]] Term kind() const override { return "wall"; }
};

/// Seconds since 1970-01-01 UTC, for dates on sheets.
[[nodiscard]] std::int64_t utc_now_s();
}  // namespace hb::net
