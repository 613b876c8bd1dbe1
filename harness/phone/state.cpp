// `dumpsys device_state` (AOSP DeviceStateManagerService.java), `dumpsys thermalservice`
// (ThermalManagerService.java), `dumpsys media.camera` (CameraService.cpp, CameraProviderManager.cpp),
// `wm size` (WindowManagerShellCommand.java) and `dumpsys biometric` (BiometricService.java, which has no
// dump before Android 12; BiometricSensor.java).
#include <algorithm>

#include "detail/scan.hpp"
#include "harness/base/text.hpp"
#include "harness/phone/phone.hpp"

namespace hb::phone {
namespace {
using namespace detail;

/// The vendor's name in "Optional[DeviceState{identifier=2, name='OPENED', ...}]", by its beginning.
FoldState state_named(std::string_view value) {
  const auto at = value.find("name='");
  if (at == std::string_view::npos) return FoldState::unknown;
  const auto name = value.substr(at + 6);
  if (name.find('\'') == std::string_view::npos) return FoldState::unknown;
  if (name.starts_with("CLOSE") || name.starts_with("FOLDED")) return FoldState::closed;
  if (name.starts_with("HALF") || name.starts_with("TENT")) return FoldState::half_open;
  if (name.starts_with("OPEN")) return FoldState::open;
  return FoldState::unknown;
}

std::optional<bool> forced_by(std::string_view value) {
  if (value == "Optional.empty" || value == "null") return false;
  if (value.starts_with("Optional[") && value.ends_with(']')) return true;
  if (value.starts_with("DeviceState{") && value.ends_with('}')) return true;
  return std::nullopt;
}

struct HalTemperature {
  double c = 0;
  int type = -1;
  std::string_view name;
};

/// "Temperature{mValue=30.9, mType=3, mName=skin, mStatus=0}"; the name may hold anything.
std::optional<HalTemperature> temperature_item(std::string_view line) {
  const auto body = after(trim(line), "Temperature{mValue=");
  if (!body) return std::nullopt;
  const auto type_at = body->find(", mType=");
  const auto name_at = body->find(", mName=");
  const auto status_at = body->rfind(", mStatus=");
  if (type_at == body->npos || name_at == body->npos || status_at == body->npos || type_at > name_at ||
      name_at + 8 > status_at)
    return std::nullopt;
  const auto c = decimal(body->substr(0, type_at));
  const auto type = whole_in(body->substr(type_at + 8, name_at - type_at - 8), -1, 1000);
  // Outside this range stand only marks for "no value" (-99.9 and the like).
  if (!c || !type || *c < -40 || *c > 150) return std::nullopt;
  return HalTemperature{*c, *type, body->substr(name_at + 8, status_at - name_at - 8)};
}

/// The hottest of the best class: vendors shift type numbers and invent names, so both are asked. Name and
/// type agree; else the name alone; else the type with a name that says nothing else.
class Hottest {
 public:
  Hottest(int type, std::string_view upper_case_word, std::string_view other_word) noexcept
      : type_(type), word_(upper_case_word), other_(other_word) {}
  void take(const HalTemperature& t) {
    if (t.type >= 6 && t.type <= 8) return;  // battery current limits are not temperatures
    const bool named = contains_ignoring_case(t.name, word_);
    const bool neutral = !contains_ignoring_case(t.name, other_);
    const int rank = named && t.type == type_ ? 3 : named ? 2 : t.type == type_ && neutral ? 1 : 0;
    if (rank == 0 || rank < rank_) return;
    c_ = rank > rank_ || !c_ ? t.c : std::max(*c_, t.c);
    rank_ = rank;
  }
  [[nodiscard]] std::optional<double> c() const noexcept { return c_; }

 private:
  int type_;
  std::string_view word_, other_;
  int rank_ = 0;
  std::optional<double> c_;
};

struct Size {
  int width = 0, height = 0;
};
std::optional<Size> size_of(std::string_view v) {
  const auto x = v.find('x');
  if (x == std::string_view::npos) return std::nullopt;
  const auto w = whole_in(v.substr(0, x), 1, 100'000);
  const auto h = whole_in(v.substr(x + 1), 1, 100'000);
  if (!w || !h) return std::nullopt;
  return Size{*w, *h};
}
}  // namespace

Result<DeviceState> parse_device_state(std::string_view text) {
  DeviceState r;
  std::optional<bool> forced;
  bool committed = false, override_seen = false;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto kv = key_value(*line, '=');
    if (!kv) continue;
    if (kv->key == "mCommittedState" && !committed) {
      committed = true;
      r.committed = state_named(kv->value);
    } else if ((kv->key == "mOverrideState" || kv->key == "mRequestedOverrideState") && !override_seen) {
      override_seen = true;
      forced = forced_by(kv->value);
      if (!forced) return unreadable("device state", lines.number());
    }
  }
  if (!committed && !override_seen) return nothing_found("device state", text);
  // A state that may be forced is never taken for a free one.
  if (!forced) return unreadable("device state", lines.number());
  r.forced = *forced;
  return r;
}

Result<ThermalReading> parse_thermal(std::string_view text) {
  std::optional<bool> forced;
  std::optional<int> status;
  FirstOnly keys;
  bool from_hal = false;
  Hottest skin(3, "SKIN", "BATT"), battery(2, "BATT", "SKIN");
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto body = trim(*line);
    if (const auto v = after(body, "IsStatusOverride:"); v && keys.first(0)) {
      forced = true_false(trim(*v));
    } else if (const auto s = after(body, "Thermal Status:"); s && keys.first(1)) {
      status = whole_in(trim(*s), 0, 6);
    } else if (body.starts_with("Current temperatures from HAL:")) {
      from_hal = keys.first(2);
    } else if (from_hal && !body.starts_with("Temperature{")) {
      from_hal = false;
    } else if (from_hal) {
      if (const auto t = temperature_item(body)) skin.take(*t), battery.take(*t);
    }
  }
  if (!keys.any()) return nothing_found("thermal", text);
  // Without these two a forced or throttled state could pass for a free one.
  if (!forced || !status) return unreadable("thermal", lines.number());
  return ThermalReading{*forced, skin.c(), battery.c(), *status};
}

Result<CameraCount> parse_cameras(std::string_view text) {
  std::optional<int> total;
  int sections = 0;
  bool want_facing = false;
  CameraCount r;
  FirstOnly keys;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto body = trim(*line);
    if (const auto n = after(body, "Number of camera devices:"); n && keys.first(0)) {
      total = whole_in(trim(*n), 0, 64);
    } else if (body.starts_with("== Camera HAL device ") && sections < 64) {
      ++sections;
      want_facing = true;
    } else if (body.starts_with("== ")) {
      want_facing = false;
    } else if (want_facing && body == "Has a flash unit: true") {
      ++r.with_light;
    } else if (want_facing && body.starts_with("Facing:")) {
      want_facing = false;
      if (body == "Facing: Back") ++r.back;
      if (body == "Facing: Front") ++r.front;
    } else if (body.starts_with("!! No camera HAL available")) {
      return CameraCount{};
    } else if (body.starts_with("!! CameraService may be deadlocked")) {
      return Error{ErrorCode::refused, "the phone's camera service does not answer", "cameras parser",
                   "restart the phone and repeat the check"};
    }
  }
  if (!total && sections == 0) return nothing_found("cameras", text);
  r.total = total.value_or(sections);
  return r;
}

Result<int> parse_fingerprint_readers(std::string_view text) {
  constexpr int kFingerprint = 2;  // BiometricAuthenticator.TYPE_FINGERPRINT, 1 before Android 11
  int readers = 0;
  bool listed = false;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto body = trim(*line);
    if (body == "Sensors:") listed = true;
    const auto modality = after(body, "modality");
    if (!modality) continue;
    listed = true;
    const auto kind = whole_in(trim(*modality), 0, 1 << 30);
    // It may have been the reader: a count without it would be a missing part.
    if (!kind) return unreadable("fingerprint", lines.number());
    readers += *kind == kFingerprint ? 1 : 0;
  }
  if (!listed) return nothing_found("fingerprint", text);
  return readers;
}

Result<DisplaySize> parse_wm_size(std::string_view text) {
  DisplaySize r;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    const auto kv = key_value(*line, ':');
    const auto size = kv ? size_of(kv->value) : std::nullopt;
    if (kv && size && kv->key == "Physical size") {
      if (r.width_px == 0) r.width_px = size->width, r.height_px = size->height;
    } else if (size || trim(*line).starts_with("Override")) {
      r.overridden = true;  // a damaged key still counts: an override must never go unseen
    }
  }
  if (r.width_px == 0) return nothing_found("display size", text);
  return r;
}
}  // namespace hb::phone
