/// One clock for checks that run side by side. Where waiting itself moves the time (a fixture that steps),
/// two checks that wait must not both move it: their waits are merged, the earliest first, and one check acts
/// at a time, so that a whole run stays repeatable however slow the machine. A clock that runs by itself is
/// handed through, and the checks act as they come. Threads: the run's strand.
#pragma once

#include <memory>

#include "harness/net/clock.hpp"

namespace hb::run {

class Lanes {
 public:
  Lanes(net::asio::any_io_executor executor, std::shared_ptr<net::Clock> base);

  /// What one check waits with. Its first wait is for its turn, whatever the length: a check begins with it.
  /// While a lane acts, no other lane's wait ends; it is closed (destroyed) when its check has ended.
  /// Errors of wait(): the base clock's; cancelled.
  [[nodiscard]] std::unique_ptr<net::Clock> open();

 private:
  class Lane;
  struct Turns;
  std::shared_ptr<Turns> turns_;
};

}  // namespace hb::run
