#include "decode.hpp"

#include <algorithm>
#include <cmath>

namespace hb::checks::touch {
namespace {
// Linux include/uapi/linux/input-event-codes.h
constexpr std::uint16_t kEvSyn = 0, kEvAbs = 3;
constexpr std::uint16_t kSynReport = 0, kSynDropped = 3;
constexpr std::uint16_t kSlot = 0x2f, kX = 0x35, kY = 0x36, kTrackingId = 0x39;
constexpr int kMaxSlots = 64;

std::int64_t microseconds(double t_s) {
  return std::isfinite(t_s) && std::abs(t_s) < 1e12 ? std::llround(t_s * 1e6) : 0;
}
}  // namespace

void Decoder::absolute(const phone::InputEvent& e, std::int64_t t, TouchGrid::DisplayCapture& into) {
  if (e.code == kSlot) {
    if (e.value < 0 || e.value >= kMaxSlots) return;
    current_ = static_cast<std::size_t>(e.value);
    if (current_ >= slots_.size()) slots_.resize(current_ + 1);
    return;
  }
  Slot& s = slots_[current_];
  if (e.code == kTrackingId) {
    if (e.value < 0) {
      if (s.contact >= 0) into.up_us[static_cast<std::size_t>(s.contact)] = t;
      s.down = s.changed = false;
    } else {
      s.down = s.changed = true;
    }
    s.contact = -1;
  } else if (e.code == kX || e.code == kY) {
    (e.code == kX ? s.x : s.y) = std::clamp(e.value, 0, e.code == kX ? max_x_ : max_y_);
    s.changed = true;
  }
}

void Decoder::report(std::int64_t t, TouchGrid::DisplayCapture& into) {
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    Slot& s = slots_[i];
    if (!s.down || !s.changed || !s.x || !s.y || into.points.t_us.size() >= kMaxPoints) continue;
    s.changed = false;
    if (s.contact < 0) {
      s.contact = static_cast<int>(into.up_us.size());
      into.up_us.push_back(-1);
    }
    into.points.t_us.push_back(t);
    into.points.slot.push_back(static_cast<int>(i));
    into.points.contact.push_back(s.contact);
    into.points.x.push_back(*s.x);
    into.points.y.push_back(*s.y);
  }
  last_report_us_ = t;
}

/// What the slots held is no longer known: a finger that stays goes on as a new contact once both of its
/// coordinates came again.
void Decoder::dropped(std::int64_t t, TouchGrid::DisplayCapture& into) {
  if (!dropping_) into.dropped_from_us.push_back(last_report_us_ >= 0 ? last_report_us_ : t);
  dropping_ = true;
  for (Slot& s : slots_) {
    s.contact = -1;
    s.changed = false;
    s.x.reset();
    s.y.reset();
  }
}

void Decoder::feed(const std::vector<phone::InputEvent>& events, TouchGrid::DisplayCapture& into) {
  for (const phone::InputEvent& e : events) {
    const std::int64_t t = microseconds(e.t_s);
    last_event_us_ = std::max(last_event_us_, t);
    if (e.type == kEvSyn && e.code == kSynDropped) {
      dropped(t, into);
    } else if (dropping_) {  // up to the next report everything belongs to what was lost
      if (e.type != kEvSyn || e.code != kSynReport) continue;
      dropping_ = false;
      into.dropped_to_us.push_back(t);
      last_report_us_ = t;
    } else if (e.type == kEvSyn && e.code == kSynReport) {
      report(t, into);
    } else if (e.type == kEvAbs) {
      absolute(e, t, into);
    }
  }
}
}  // namespace hb::checks::touch
