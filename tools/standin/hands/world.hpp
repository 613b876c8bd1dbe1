/// One phone in somebody's hands: batteries, coil, hinge and panels advanced together in simulated time.
/// Everything falls on a fixed time grid (battery and keys 5 ms, gauge 250 ms, hinge and motion 20 ms, panels
/// at their report rate), so that advancing by 20 ms twice equals advancing by 40 ms once. Deterministic by
/// the unit's seed and the calls. Threads: the stand-in's one thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "tools/standin/hands/hands.hpp"
#include "tools/standin/physics/coil.hpp"
#include "tools/standin/physics/hinge.hpp"
#include "tools/standin/physics/keys.hpp"
#include "tools/standin/physics/light.hpp"
#include "tools/standin/physics/motion.hpp"
#include "tools/standin/physics/noise.hpp"
#include "tools/standin/physics/pack.hpp"
#include "tools/standin/physics/port.hpp"
#include "tools/standin/physics/touch.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
/// Codes of the platform (AOSP BatteryStatus.aidl).
enum class Charging { unknown = 1, charging, discharging, not_charging, full };

/// What one cell's fuel gauge says, in the kernel's units (Documentation/ABI/testing/sysfs-class-power),
/// positive current = charging.
struct Gauge {
  bool present = true;
  long long voltage_uv = 0, current_ua = 0, temperature_dc = 0;
  long long counter_uah = 0, full_uah = 0, design_uah = 0;
  int cycles = 0, level_pct = 0;
  Charging status = Charging::unknown;
};
/// What the battery service says of the whole pack.
struct PackSays {
  bool usb = false, wireless = false;
  long long max_current_ua = 0, max_voltage_uv = 0, counter_uah = 0;
  int level_pct = 0;
  long long voltage_mv = 0, temperature_dc = 0;
  Charging status = Charging::unknown;
};

class World {
 public:
  explicit World(Unit unit);
  World(const World&) = delete;
  World& operator=(const World&) = delete;

  void advance(std::chrono::microseconds d);
  [[nodiscard]] std::int64_t now_us() const noexcept { return now_us_; }
  /// The phone's clock: seconds since its boot, at simulated time t_us.
  [[nodiscard]] double uptime_s(std::int64_t t_us) const noexcept;
  [[nodiscard]] double uptime_s() const noexcept { return uptime_s(now_us_); }

  [[nodiscard]] const Unit& unit() const noexcept { return unit_; }
  [[nodiscard]] Hands& hands() noexcept { return hands_; }
  [[nodiscard]] const Hands& hands() const noexcept { return hands_; }

  [[nodiscard]] const Gauge* gauge(std::string_view supply) const noexcept;
  [[nodiscard]] PackSays pack_says() const;
  [[nodiscard]] const Pack& pack() const noexcept { return pack_; }
  [[nodiscard]] bool coupled() const noexcept {
    return coil_.coupled() && !hands_.cable() && hands_.plug_side() == 0;
  }
  [[nodiscard]] const Port& port() const noexcept { return port_; }
  /// What the port's own meters say of the bench's charger, in the kernel's units, with their noise.
  [[nodiscard]] long long port_uv() const noexcept;
  [[nodiscard]] long long port_ua() const noexcept;
  [[nodiscard]] double skin_c() const noexcept { return pack_.body_c(); }

  /// Busy loops that end by themselves after `seconds` of simulated time.
  void start_load(int workers, double seconds);
  void stop_load() noexcept { loads_.clear(); }
  [[nodiscard]] int workers() const noexcept;
  void vibrate(double seconds) noexcept;

  [[nodiscard]] const HingeSensor* hinge() const noexcept { return hinge_ ? &*hinge_ : nullptr; }
  [[nodiscard]] Fold fold() const noexcept { return hinge_ ? hinge_->fold() : Fold::opened; }
  /// The panel that is lit, in the order of the model.
  [[nodiscard]] std::size_t lit_panel() const noexcept {
    return fold() == Fold::closed && unit_.panels.size() > 1 ? 1 : 0;
  }
  [[nodiscard]] bool lid_closed() const noexcept { return lid_closed_; }
  [[nodiscard]] const LightSensor& light() const noexcept { return light_; }
  [[nodiscard]] const MotionSensors& motion() const noexcept { return motion_; }
  /// Whether the contact of side key `code` is closed.
  [[nodiscard]] bool key_down(int code) const noexcept;

  /// Hands every event of input node `node` to `sink` until it answers false.
  using Sink = std::function<bool(std::span<const RawEvent>)>;
  void listen(int node, Sink sink);

 private:
  struct Load {
    int workers;
    std::int64_t until_us;
  };
  void step_battery();
  void read_gauges();
  void step_hinge();
  void step_keys();
  void step_motion();
  void step_panel(std::size_t i);
  void tell(int node, std::span<const RawEvent> events);
  [[nodiscard]] double supply_w(double load_w) const noexcept;
  [[nodiscard]] Charging status_of(double current_a, double soc) const noexcept;

  Unit unit_;
  Hands hands_;
  Pack pack_;
  Coil coil_;
  std::optional<HingeSensor> hinge_;
  MotionSensors motion_;
  Port port_;
  LightSensor light_;
  std::vector<KeySwitch> keys_;
  std::vector<Digitizer> panels_;
  std::vector<std::uint64_t> next_frame_;
  Noise gauge_noise_, port_noise_;
  std::vector<Gauge> gauges_;
  PackSays says_;
  std::vector<Load> loads_;
  std::map<int, std::vector<Sink>> sinks_;
  bool lid_closed_ = false;
  std::int64_t now_us_ = 0, next_battery_us_ = 0, motor_until_us_ = 0;
};
}  // namespace hb::standin
