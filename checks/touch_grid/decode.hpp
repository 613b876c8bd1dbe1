/// From the digitizer's raw events to contact points. Source of the protocol: Linux kernel documentation,
/// input/multi-touch-protocol.rst (type B: slots, a tracking id of -1 lifts, unchanged values are not sent)
/// and input/event-codes.rst (SYN_DROPPED). Total on any sequence of events. Pure value type.
#pragma once

#include <optional>
#include <vector>

#include "checks/touch_grid/touch_grid.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks::touch {

/// More points than any calm sweep gives (10 fingers at 240 Hz for 4 minutes are 576,000): beyond it the
/// decoder keeps none, so that a phone gone mad cannot fill the memory.
inline constexpr std::size_t kMaxPoints = 600000;

class Decoder {
 public:
  explicit Decoder(const TouchGrid::Display& d) : max_x_(d.max_x), max_y_(d.max_y) {}
  /// Appends to `into`: points, lift times, dropped stretches.
  void feed(const std::vector<phone::InputEvent>& events, TouchGrid::DisplayCapture& into);
  /// The newest event's time; 0 before the first.
  [[nodiscard]] std::int64_t last_event_us() const noexcept { return last_event_us_; }

 private:
  struct Slot {
    bool down = false, changed = false;
    int contact = -1;  // number, -1: none yet
    std::optional<int> x, y;
  };
  void absolute(const phone::InputEvent& e, std::int64_t t, TouchGrid::DisplayCapture& into);
  void report(std::int64_t t, TouchGrid::DisplayCapture& into);
  void dropped(std::int64_t t, TouchGrid::DisplayCapture& into);

  int max_x_, max_y_;
  std::vector<Slot> slots_ = std::vector<Slot>(1);
  std::size_t current_ = 0;
  std::int64_t last_report_us_ = -1, last_event_us_ = 0;
  bool dropping_ = false;
};

}  // namespace hb::checks::touch
