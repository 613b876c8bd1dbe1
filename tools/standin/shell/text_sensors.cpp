#include <fmt/format.h>

#include <array>
#include <cmath>
#include <vector>

#include "tools/standin/shell/canaries.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin::text {
namespace {
struct SensorLine {
  unsigned handle;
  std::string_view name, type;
  int number;
  std::string_view mode;
  double max_rate_hz;
};
constexpr std::string_view kHingeName = "Velmora Hinge [Hall|angle]";

std::vector<SensorLine> sensor_list(const World& w) {
  std::vector<SensorLine> out{
      {1, "VLM A3 Accelerometer", "android.sensor.accelerometer", 1, "continuous", 400},
      {2, "VLM G3 Gyroscope", "android.sensor.gyroscope", 4, "continuous", 400},
      {3, "VLM M1 Magnetometer", "android.sensor.magnetic_field", 2, "continuous", 100},
      {5, "VLM L2 Ambient Light", "android.sensor.light", 5, "on-change", 0},
      {6, "VLM P2 Proximity", "android.sensor.proximity", 8, "on-change", 0}};
  if (!w.unit().small.proximity_listed) out.pop_back();
  if (w.hinge() != nullptr)
    out.push_back({0x1b, kHingeName, "android.sensor.hinge_angle", 36, "on-change", 0});
  return out;
}

std::string wall(const World& w, std::int64_t t_us) {
  const auto ms = static_cast<long long>(std::llround((8 * 3600 + w.uptime_s(t_us)) * 1000));
  return fmt::format("{:02}:{:02}:{:02}.{:03}", ms / 3'600'000 % 24, ms / 60'000 % 60, ms / 1000 % 60,
                     ms % 1000);
}

std::string event_line(const World& w, std::size_t number, std::int64_t t_us,
                       std::span<const double> values) {
  const auto ns = mixed(static_cast<std::uint64_t>(t_us)) % 1000;
  std::string out =
      fmt::format("\t{:2} (ts={:.6f}{:03}, wall={}) ", number, w.uptime_s(t_us), ns, wall(w, t_us));
  for (const double v : values) out += fmt::format("{:.2f}, ", v);
  return out + '\n';
}

std::string motion_events(const World& w, std::string_view name, const std::deque<MotionEvent>& recent) {
  std::string out = fmt::format("{}: last {} events\n", name, recent.size());
  std::size_t number = 1;
  for (auto it = recent.rbegin(); it != recent.rend(); ++it)
    out += event_line(w, number++, it->t_us, it->value);
  return out;
}

std::string hinge_events(const World& w) {
  if (w.hinge() == nullptr || w.hinge()->recent().empty()) return {};
  const auto& recent = w.hinge()->recent();
  std::string out = fmt::format("{}: last {} events\n", kHingeName, recent.size());
  std::size_t number = 1;
  for (auto it = recent.rbegin(); it != recent.rend(); ++it)
    out += event_line(w, number++, it->t_us, std::array<double, 1>{it->deg});
  return out;
}

std::string state_text(Fold f) {
  static constexpr std::array<std::string_view, 3> names{"CLOSED", "HALF_OPENED", "OPENED"};
  return fmt::format(
      "DeviceState{{identifier={}, name='{}', app_accessible=true, "
      "cancel_when_requester_not_on_top=false}}",
      static_cast<int>(f), names[static_cast<std::size_t>(f)]);
}
std::string slab_state() {
  return "DeviceState{identifier=0, name='DEFAULT', app_accessible=true, "
         "cancel_when_requester_not_on_top=false}";
}
std::string state_text(const World& w, Fold f) { return w.hinge() != nullptr ? state_text(f) : slab_state(); }
constexpr Fold kForced = Fold::half_opened;
}  // namespace

Fold committed_fold(const World& w) noexcept {
  return w.unit().faults.has(Fault::fold_forced) ? kForced : w.fold();
}

std::string sensors(const World& w) {
  std::string out =
      fmt::format("Captured at: {}\nSensor Device:\nTotal {} h/w sensors, {} running 1 disabled clients:\n",
                  wall(w, w.now_us()), sensor_list(w).size(), 3);
  out += "Sensor List:\n";
  for (const auto& s : sensor_list(w)) {
    out +=
        fmt::format("{:#010x}) {:<25} | {:<15} | ver: 1 | type: {:>20}({}) | perm: n/a | flags: 0x{:08x}\n",
                    s.handle, s.name, "Velmora", s.type, s.number, s.mode == "on-change" ? 2 : 0);
    out += s.mode == "on-change"
               ? fmt::format("\t{} | minRate=1.00Hz | minDelay=0us | no batching | non-wakeUp | \n", s.mode)
               : fmt::format(
                     "\t{} | minRate=1.00Hz | maxRate={:.2f}Hz | FIFO (max,reserved) = (3000, 300) events | "
                     "non-wakeUp | \n",
                     s.mode, s.max_rate_hz);
  }
  out +=
      "Fusion States:\n9-axis fusion disabled (0 clients), gyro-rate= 0.00Hz, q=< 0, 0, 0, 1 > (1), b=< 0, "
      "0, 0 >\n";
  out += "Recent Sensor events:\n" + motion_events(w, "VLM A3 Accelerometer", w.motion().accelerometer()) +
         motion_events(w, "VLM G3 Gyroscope", w.motion().gyroscope()) + hinge_events(w);
  const auto& light = w.light().recent();
  out += fmt::format("VLM L2 Ambient Light: last {} events\n", light.size());
  for (std::size_t i = 0; i < light.size(); ++i) {
    const auto& e = light[light.size() - 1 - i];
    out += event_line(w, i + 1, e.t_us, std::array<double, 1>{e.lux});
  }
  out += fmt::format(
      "Active sensors:\nVLM A3 Accelerometer (handle=0x00000001, connections=2)\n"
      "Socket Buffer size = 39 events\nWakeLock Status: not held \nMode : NORMAL\nSensor Privacy: disabled\n"
      "2 active connections\nConnection Number: 0 \n\tOperating Mode: NORMAL\n"
      "\t com.android.server.policy.WindowOrientationListener | WakeLockRefCount 0 | uid 1000 | cache size "
      "0\n"
      "Connection Number: 1 \n\tOperating Mode: NORMAL\n"
      "\t {}.StepDiary | WakeLockRefCount 0 | uid 10231 | cache size 0\n"
      "0 direct connections\nPrevious Registrations:\n"
      "{} + 0x00000001 pid= 4821 uid=10231 package={} samplingPeriod=66667us batchingPeriod=0us\n"
      "{} - 0x00000005 pid= 5120 uid=10244 package={}\n",
      canary("package"), wall(w, 0), canary("package"), wall(w, 0), canary("app"));
  return out;
}

std::string biometric(const World& w) {
  std::string out = "Legacy Settings: false\n\nSensors:\n";
  int id = 0;
  const auto sensor = [&](int strength, int modality) {
    out += fmt::format(" ID({}), oemStrength: {}, updatedStrength: {}, modality {}, state: 0, cookie: 0\n",
                       id++, strength, strength, modality);
  };
  if (w.unit().small.fingerprint_listed) sensor(15, 2);
  sensor(255, 8);  // a face by the front camera, whose flex is another one
  return out + "\nCurrentSession: null\n\n";
}

std::string device_state(const World& w) {
  const bool forced = w.unit().faults.has(Fault::fold_forced);
  return fmt::format(
      "DEVICE STATE MANAGER (dumpsys device_state)\n  mCommittedState=Optional[{}]\n"
      "  mPendingState=Optional.empty\n  mBaseState=Optional[{}]\n  mOverrideState={}\n\n"
      "Registered processes: size=2\n  0: mPid=1200\n  1: mPid=2345\n",
      state_text(w, committed_fold(w)), state_text(w, w.fold()),
      forced ? "Optional[" + state_text(w, kForced) + "]" : std::string("Optional.empty"));
}

std::string cmd_device_state(const World& w, std::string_view verb) {
  const Fold now = committed_fold(w);
  const bool folds = w.hinge() != nullptr;
  if (verb == "print-state") return fmt::format("{}\n", folds ? static_cast<int>(now) : 0);
  if (verb == "print-states-simple") return folds ? "0,1,2\n" : "0\n";
  if (verb == "print-states") {
    std::string out = "Supported states: [\n";
    if (!folds) return out + "  " + slab_state() + ",\n]\n";
    for (const Fold f : {Fold::closed, Fold::half_opened, Fold::opened}) out += "  " + state_text(f) + ",\n";
    return out + "]\n";
  }
  if (verb == "state") {
    std::string out = fmt::format("Committed state: {}\n", state_text(w, now));
    if (w.unit().faults.has(Fault::fold_forced))
      out += fmt::format("----------------------\nBase state: {}\nOverride state: {}\n",
                         state_text(w, w.fold()), state_text(w, kForced));
    return out;
  }
  return {};
}
}  // namespace hb::standin::text
