#include "tools/standin/physics/touch.hpp"

#include <algorithm>
#include <cmath>

namespace hb::standin {
namespace {
// Linux include/uapi/linux/input-event-codes.h
constexpr std::uint16_t kSyn = 0, kKey = 1, kAbs = 3;
constexpr std::uint16_t kBtnTouch = 0x14a, kSlot = 0x2f, kX = 0x35, kY = 0x36, kTrackingId = 0x39;
constexpr int kGhostFinger = 99;
constexpr double kGhostLasts_s = 0.06;

int to_px(double mm, double size_mm, int size_px) noexcept {
  return std::clamp(static_cast<int>(std::floor(mm / size_mm * size_px)), 0, size_px - 1);
}
}  // namespace

Digitizer::Digitizer(PanelUnit unit, std::uint64_t seed)
    : unit_(std::move(unit)),
      noise_(seed, "touch noise " + unit_.spec.part),
      ghosts_(seed, "ghosts " + unit_.spec.part) {}

std::int64_t Digitizer::frame_us(std::uint64_t k) const noexcept {
  return std::llround(static_cast<double>(k) * 1e6 / unit_.spec.rate_hz);
}

std::vector<Contact> Digitizer::seen(std::uint64_t k, const std::vector<Contact>& fingers) const {
  std::vector<Contact> out;
  for (Contact c : fingers) {
    const auto n = 32 * k + 2 * static_cast<std::uint64_t>(c.finger);
    c.x_mm += unit_.noise_mm * noise_.gauss(n);
    c.y_mm += unit_.noise_mm * noise_.gauss(n + 1);
    const bool dead = std::any_of(unit_.dead.begin(), unit_.dead.end(),
                                  [&](const DeadZone& z) { return z.contains(c.x_mm, c.y_mm); });
    if (!dead) out.push_back(c);
  }
  if (unit_.ghost_every_s > 0) {
    const double periods = static_cast<double>(frame_us(k)) * 1e-6 / unit_.ghost_every_s;
    const auto n = static_cast<std::uint64_t>(periods);
    const double since_s = (periods - std::floor(periods)) * unit_.ghost_every_s;
    if (since_s < kGhostLasts_s)
      out.push_back({kGhostFinger, ghosts_.uniform(2 * n, 0, unit_.spec.width_mm),
                     ghosts_.uniform(2 * n + 1, 0, unit_.spec.height_mm)});
  }
  return out;
}

void Digitizer::select(int slot, std::int64_t t, std::vector<RawEvent>& out) {
  if (slot == current_slot_) return;
  current_slot_ = slot;
  out.push_back({t, kAbs, kSlot, slot});
}

void Digitizer::lift_gone(const std::vector<Contact>& contacts, std::int64_t t, std::vector<RawEvent>& out) {
  for (int i = 0; i < kSlots; ++i) {
    auto& slot = slots_[static_cast<std::size_t>(i)];
    if (!slot) continue;
    if (std::any_of(contacts.begin(), contacts.end(),
                    [&](const auto& c) { return c.finger == slot->finger; }))
      continue;
    select(i, t, out);
    out.push_back({t, kAbs, kTrackingId, -1});
    slot.reset();
  }
}

void Digitizer::put(const Contact& c, std::int64_t t, std::vector<RawEvent>& out) {
  const auto holds = [&](const auto& s) { return s && s->finger == c.finger; };
  auto it = std::find_if(slots_.begin(), slots_.end(), holds);
  const bool fresh = it == slots_.end();
  if (fresh) it = std::find_if(slots_.begin(), slots_.end(), [](const auto& s) { return !s; });
  if (it == slots_.end()) return;
  const int x = to_px(c.x_mm, unit_.spec.width_mm, unit_.spec.width_px);
  const int y = to_px(c.y_mm, unit_.spec.height_mm, unit_.spec.height_px);
  if (!fresh && (*it)->x == x && (*it)->y == y) return;
  select(static_cast<int>(it - slots_.begin()), t, out);
  if (fresh) {
    *it = Slot{c.finger, -1, -1};
    out.push_back({t, kAbs, kTrackingId, next_id_});
    next_id_ = next_id_ == 65535 ? 1 : next_id_ + 1;
  }
  if ((*it)->x != x) out.push_back({t, kAbs, kX, x});
  if ((*it)->y != y) out.push_back({t, kAbs, kY, y});
  (*it)->x = x, (*it)->y = y;
}

std::vector<RawEvent> Digitizer::frame(std::uint64_t k, const std::vector<Contact>& fingers) {
  std::vector<RawEvent> out;
  const auto t = frame_us(k);
  const auto contacts = seen(k, fingers);
  lift_gone(contacts, t, out);
  for (const auto& c : contacts) put(c, t, out);
  const bool touched = std::any_of(slots_.begin(), slots_.end(), [](const auto& s) { return s.has_value(); });
  if (touched != touched_) out.push_back({t, kKey, kBtnTouch, touched ? 1 : 0});
  touched_ = touched;
  if (!out.empty()) out.push_back({t, kSyn, 0, 0});
  return out;
}
}  // namespace hb::standin
