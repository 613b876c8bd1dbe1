/// A touch panel that reports type-B contacts (Linux Documentation/input/multi-touch-protocol.rst).
/// Threads: a plain value type.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "tools/standin/physics/noise.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
/// A fingertip on a panel, millimetres from the top left corner. `finger` tells several apart.
struct Contact {
  int finger = 0;
  double x_mm = 0, y_mm = 0;
};

/// One event of an input node, as the kernel gives it (input-event-codes.h).
struct RawEvent {
  std::int64_t t_us = 0;  ///< simulated time
  std::uint16_t type = 0, code = 0;
  std::int32_t value = 0;
  friend bool operator==(const RawEvent&, const RawEvent&) = default;
};

class Digitizer {
 public:
  static constexpr int kSlots = 10;
  Digitizer(PanelUnit unit, std::uint64_t seed);

  /// When report number `k` is due.
  [[nodiscard]] std::int64_t frame_us(std::uint64_t k) const noexcept;
  /// The events of report `k`, with these fingers on the glass; empty when nothing changed.
  [[nodiscard]] std::vector<RawEvent> frame(std::uint64_t k, const std::vector<Contact>& fingers);
  [[nodiscard]] const PanelUnit& unit() const noexcept { return unit_; }

 private:
  struct Slot {
    int finger, x, y;
  };
  [[nodiscard]] std::vector<Contact> seen(std::uint64_t k, const std::vector<Contact>& fingers) const;
  void select(int slot, std::int64_t t, std::vector<RawEvent>& out);
  void lift_gone(const std::vector<Contact>& contacts, std::int64_t t, std::vector<RawEvent>& out);
  void put(const Contact& c, std::int64_t t, std::vector<RawEvent>& out);

  PanelUnit unit_;
  Noise noise_, ghosts_;
  std::array<std::optional<Slot>, kSlots> slots_;
  int current_slot_ = 0;
  std::int32_t next_id_ = 1;
  bool touched_ = false;
};
}  // namespace hb::standin
