#include "tools/standin/hands/world.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace hb::standin {
namespace {
constexpr std::int64_t kBattery_us = 5'000, kGauge_us = 250'000;
constexpr double kIdle_w = 0.280 * 3.9, kWorker_w = 3.5 / 4;
constexpr double kCable_w = 0.5 * 5.0, kCableEfficiency = 0.88;  // common practice, no source
constexpr double kCoilLoss = 0.28;                               // of the power that arrives, as heat
constexpr double kLidClosed_deg = 18;                            // the magnet's reach
constexpr double kHotSkin_c = 47;
constexpr double kShort_k_per_s = 1.5;  // a soft short: fast enough to be stopped within a load, from memory

double usual_body_rise_k(const BodyParameters& b) {
  return b.to_ambient_k_per_w * (kIdle_w + kCable_w * (1 - kCableEfficiency));
}

BodyParameters body_of(const Unit& u) {
  BodyParameters b;
  b.ambient_c = u.ambient_c;
  if (u.faults.has(Fault::phone_hot)) b.ambient_c = kHotSkin_c - usual_body_rise_k(b);
  return b;
}

Pack make_pack(const Unit& u) {
  double design = 0;
  for (const auto& c : u.cells) design += c.spec.design_mah;
  std::vector<CellParameters> cells;
  for (const auto& c : u.cells) {
    CellParameters p;
    p.capacity_mah = c.capacity_mah;
    p.r0_ohm = c.r0_ohm;
    const double part = c.spec.design_mah / design;  // a larger cell holds more heat and sheds it better
    p.heat_capacity_j_per_k = 60 * part;
    p.to_body_k_per_w = 2 / part;
    p.connected = c.present;
    cells.push_back(p);
  }
  const BodyParameters body = body_of(u);
  return Pack(std::move(cells), body, u.start_soc, body.ambient_c + usual_body_rise_k(body));
}

int percent(double soc) { return std::clamp(static_cast<int>(std::lround(100 * soc)), 0, 100); }
}  // namespace

World::World(Unit unit)
    : unit_(std::move(unit)),
      hands_(unit_),
      pack_(make_pack(unit_)),
      coil_(unit_.coil, unit_.seed),
      motion_(unit_.motion, unit_.seed),
      port_(unit_.port),
      light_(unit_.small, unit_.seed),
      gauge_noise_(unit_.seed, "gauges"),
      port_noise_(unit_.seed, "port meters"),
      gauges_(unit_.cells.size()) {
  if (unit_.hinge) hinge_.emplace(*unit_.hinge, unit_.seed, 180);
  for (const auto& p : unit_.panels) panels_.emplace_back(p, unit_.seed);
  for (const auto& k : unit_.keys) keys_.emplace_back(k, unit_.seed);
  next_frame_.resize(panels_.size(), 0);
  advance(std::chrono::microseconds(0));
}

double World::uptime_s(std::int64_t t_us) const noexcept {
  return unit_.boot_s + static_cast<double>(t_us) * 1e-6;
}

void World::advance(std::chrono::microseconds d) {
  const std::int64_t target = now_us_ + d.count();
  for (;;) {
    std::int64_t next = next_battery_us_;
    std::size_t panel = panels_.size();
    for (std::size_t i = 0; i < panels_.size(); ++i)
      if (const auto t = panels_[i].frame_us(next_frame_[i]); t < next) next = t, panel = i;
    if (next > target) break;
    now_us_ = next;
    hands_.advance(now_us_);
    if (panel < panels_.size()) {
      step_panel(panel);
      continue;
    }
    if (now_us_ % HingeSensor::kPeriod_us == 0) {
      step_hinge();
      step_motion();
    }
    if (now_us_ % LightSensor::kPeriod_us == 0) light_.sample(now_us_, hands_.covered());
    step_keys();
    step_battery();
    if (now_us_ % kGauge_us == 0) read_gauges();
    next_battery_us_ += kBattery_us;
  }
  now_us_ = target;
  hands_.advance(now_us_);
}

// ------------------------------------------------------------------------------------------- power

double World::supply_w(double load_w) const noexcept {
  const double soc = pack_.soc();
  double w = 0;
  if (hands_.cable()) {
    w = kCable_w * kCableEfficiency;
  } else if (hands_.plug_side() != 0) {
    w = port_.rail_w();
  } else if (coil_.coupled()) {
    const double arrives = coil_.rail_w(pack_.body_c());
    const double taper = std::clamp(1 - 0.75 * (soc - 0.8) / 0.2, 0.25, 1.0);
    w = load_w + (arrives - load_w) * (arrives > load_w ? taper : 1.0);
  }
  return soc > 0.995 ? std::min(w, load_w) : w;  // a full battery is not charged further
}

void World::step_battery() {
  constexpr double dt_s = static_cast<double>(kBattery_us) * 1e-6;
  std::erase_if(loads_, [this](const Load& l) { return l.until_us <= now_us_; });
  coil_.step(dt_s, hands_.on_pad(), hands_.shift_mm());
  const double load_w = kIdle_w + kWorker_w * workers();
  const double full_w =
      pack_.soc() > 0.995 ? load_w : 100;  // a full battery takes no more than the phone uses
  port_.step(dt_s, hands_.plug_side(), hands_.wiggles(), full_w);
  const double in_w = supply_w(load_w);
  double heat_w = load_w;
  if (hands_.cable()) heat_w += kCable_w * (1 - kCableEfficiency);
  heat_w += port_.rail_w() * (1 / Port::kEfficiency - 1);
  if (coupled()) heat_w += kCoilLoss * coil_.rail_w(pack_.body_c());
  if (const double d = unit_.faults.degree(Fault::cell_shorts); d > 0)
    pack_.heat_cell(0, workers() > 0 ? d * kShort_k_per_s * pack_.parameters()[0].heat_capacity_j_per_k : 0);
  pack_.step_power(dt_s, in_w - load_w, heat_w);
}

Charging World::status_of(double current_a, double soc) const noexcept {
  if (!hands_.cable() && !port_.online() && !coupled()) return Charging::discharging;
  if (soc > 0.995) return Charging::full;
  if (current_a > 0.02) return Charging::charging;
  return current_a < -0.02 ? Charging::discharging : Charging::not_charging;
}

void World::read_gauges() {
  const auto n = static_cast<std::uint64_t>(now_us_ / kGauge_us);
  const auto status = status_of(pack_.current_a(), pack_.soc());
  for (std::size_t k = 0; k < gauges_.size(); ++k) {
    const CellUnit& c = unit_.cells[k];
    const CellState& s = pack_.cells()[k];
    Gauge g;
    g.design_uah = 1000 * std::llround(c.design_told_mah);
    g.present = c.present;
    if (c.present) {
      g.voltage_uv = 1000 * std::llround(1000 * pack_.voltage_v() + c.gauge_offset_mv);
      g.current_ua = 1000 * std::llround(1000 * s.current_a + 2 * gauge_noise_.gauss(16 * n + k));
      g.temperature_dc = std::llround(10 * s.temperature_c);
      g.counter_uah = 1000 * std::llround(s.soc * c.capacity_mah);
      g.full_uah = 1000 * std::llround(c.capacity_mah);
      g.cycles = c.cycles;
      g.level_pct = percent(s.soc);
      g.status = status;
    } else {
      g.temperature_dc = -400;  // an open thermistor
    }
    gauges_[k] = g;
  }
  if (unit_.faults.has(Fault::battery_frozen) && n > 0) return;
  says_ = {};
  says_.usb = hands_.cable() || port_.online();
  says_.wireless = coupled();
  says_.max_current_ua = port_.online() ? 3'000'000 : says_.usb ? 500'000 : says_.wireless ? 1'100'000 : 0;
  says_.max_voltage_uv = says_.usb ? 5'000'000 : says_.wireless ? 9'000'000 : 0;
  says_.counter_uah = 1000 * std::llround(pack_.charge_mah());
  says_.level_pct = percent(pack_.soc());
  says_.voltage_mv = std::llround(1000 * pack_.voltage_v());
  says_.temperature_dc = gauges_.front().temperature_dc;
  says_.status = status;
}

const Gauge* World::gauge(std::string_view supply) const noexcept {
  for (std::size_t k = 0; k < gauges_.size(); ++k)
    if (unit_.cells[k].spec.supply == supply) return &gauges_[k];
  return nullptr;
}

long long World::port_uv() const noexcept {
  if (!port_.online()) return 0;
  return std::llround(1e6 * port_.voltage_v() +
                      3000 * port_noise_.gauss(2 * static_cast<std::uint64_t>(now_us_)));
}
long long World::port_ua() const noexcept {
  if (!port_.online()) return 0;
  return std::llround(1e6 * port_.current_a() +
                      4000 * port_noise_.gauss(2 * static_cast<std::uint64_t>(now_us_) + 1));
}

PackSays World::pack_says() const { return says_; }

void World::start_load(int workers, double seconds) {
  loads_.push_back({workers, now_us_ + std::llround(seconds * 1e6)});
}

void World::vibrate(double seconds) noexcept { motor_until_us_ = now_us_ + std::llround(seconds * 1e6); }

int World::workers() const noexcept {
  int sum = 0;
  for (const auto& l : loads_) sum += l.workers;
  return std::min(sum, 8);
}

// ------------------------------------------------------------------------------------------- hinge, touch

void World::step_hinge() {
  if (!hinge_) return;
  const double deg = hands_.hinge_deg(now_us_);
  hinge_->sample(now_us_, deg);
  const bool closed = deg < kLidClosed_deg;
  if (closed == lid_closed_) return;
  lid_closed_ = closed;
  const std::vector<RawEvent> events{{now_us_, 5, 0, closed ? 1 : 0}, {now_us_, 0, 0, 0}};
  tell(0, events);
}

void World::step_keys() {
  const int pressed = hands_.pressed_key();
  for (auto& k : keys_) {
    const int code = k.unit().spec.code;
    const auto changed = k.sample(now_us_, pressed == code);
    if (!changed) continue;
    const std::vector<RawEvent> events{{now_us_, 1, static_cast<std::uint16_t>(code), *changed ? 1 : 0},
                                       {now_us_, 0, 0, 0}};
    tell(0, events);
  }
}

void World::step_motion() {
  const Turning pose = hands_.pose(now_us_);
  const MotorUnit& motor = unit_.motor;
  const bool runs = now_us_ < motor_until_us_ && !motor.open;
  // At the event's own printed time, which has a few hundred nanoseconds more: no matter at 170 Hz.
  const double turns = motor.hz * static_cast<double>(now_us_) * 1e-6;
  const double shake = runs ? motor.shake_ms2 * std::sin(2 * std::numbers::pi * std::fmod(turns, 1.0)) : 0;
  motion_.sample(now_us_, pose.up, pose.rate_rad_s, shake);
}

bool World::key_down(int code) const noexcept {
  return std::any_of(keys_.begin(), keys_.end(),
                     [code](const auto& k) { return k.unit().spec.code == code && k.down(); });
}

void World::step_panel(std::size_t i) {
  const auto events = panels_[i].frame(next_frame_[i]++, hands_.contacts(i, now_us_));
  if (!events.empty()) tell(panels_[i].unit().spec.node, events);
}

void World::listen(int node, Sink sink) { sinks_[node].push_back(std::move(sink)); }

void World::tell(int node, std::span<const RawEvent> events) {
  const auto it = sinks_.find(node);
  if (it == sinks_.end()) return;
  std::erase_if(it->second, [&](const Sink& sink) { return !sink(events); });
}
}  // namespace hb::standin
