/// Every field of every reading as text, for searching what a parser let through.
#pragma once

#include <functional>
#include <sstream>
#include <string>
#include <vector>

#include "harness/phone/phone.hpp"

namespace hb::phone {

class Shown {
 public:
  template <class T>
  Shown& operator()(const T& v) {
    out_ << v << ' ';
    return *this;
  }
  template <class T>
  Shown& operator()(const std::optional<T>& v) {
    if (v) return (*this)(*v);
    out_ << "- ";
    return *this;
  }
  Shown& operator()(const std::optional<ChargeStatus>& v) { return (*this)(v ? static_cast<int>(*v) : 0); }
  [[nodiscard]] std::string str() const { return out_.str(); }

 private:
  std::ostringstream out_;
};

inline std::string show(const BatteryReading& r) {
  return Shown{}(r.uptime_s)(r.ac)(r.usb)(r.wireless)(r.dock)(r.max_charging_ma)(r.max_charging_mv)(
             r.charge_counter_mah)(r.level_pct)(r.voltage_mv)(r.temperature_c)(r.status)(r.health)(r.present)(
             r.updates_stopped)
      .str();
}
inline std::string show(const CellReading& r) {
  return Shown{}(r.uptime_s)(r.readable)(r.present)(r.voltage_mv)(r.current_ma)(r.temperature_c)(
             r.charge_counter_mah)(r.charge_full_mah)(r.charge_full_design_mah)(r.cycle_count)(
             r.capacity_pct)(r.status)
      .str();
}
inline std::string show(const SensorReading& r) {
  Shown s;
  s(r.listed)(r.masked);
  for (const auto& e : r.events) {
    s(e.t_s);
    for (const double v : e.values) s(v);
  }
  return s.str();
}
inline std::string show(const InputDevices& r) {
  Shown s;
  for (const auto& t : r.touch) s(t.node)(t.max_x)(t.max_y)(t.max_slot);
  for (const auto& k : r.keys) {
    s(k.node)(k.lid);
    for (const auto code : k.keys) s(code);
    for (const auto code : k.down) s(code);
  }
  return s(r.has_lid_switch)(r.lid_closed).str();
}
inline std::string show(const std::vector<InputEvent>& events) {
  Shown s;
  for (const auto& e : events) s(e.t_s)(e.type)(e.code)(e.value);
  return s.str();
}
inline std::string show(const DeviceState& r) {
  return Shown{}(static_cast<int>(r.committed))(r.forced).str();
}
inline std::string show(const ThermalReading& r) {
  return Shown{}(r.forced)(r.skin_c)(r.battery_c)(r.status).str();
}
inline std::string show(const CameraCount& r) {
  return Shown{}(r.total)(r.back)(r.front)(r.with_light).str();
}
inline std::string show(const SupplyReading& r) {
  return Shown{}(r.uptime_s)(r.online)(r.voltage_mv)(r.current_ma)(r.current_max_ma).str();
}
inline std::string show(const RadioReading& r) { return Shown{}(r.switched_on)(r.up)(r.level_dbm).str(); }
inline std::string show(const SimReading& r) { return Shown{}(r.told)(r.read)(r.loaded).str(); }
inline std::string show(const MobileReading& r) { return Shown{}(r.lte_dbm)(r.nr_dbm).str(); }
inline std::string show(int v) { return Shown{}(v).str(); }
inline std::string show(double v) { return Shown{}(v).str(); }
inline std::string show(const DisplaySize& r) { return Shown{}(r.width_px)(r.height_px)(r.overridden).str(); }
inline std::string show(const Identity& r) { return r.tag + " " + r.tail; }
template <class T>
std::string show(const Result<T>& r) {
  if (r) return show(*r);
  return r.error().what + "|" + r.error().where + "|" + r.error().next + "|" + r.error().message();
}

/// What a parser made of a text: all of its output, and the flag that makes a check refuse to judge.
struct Parsed {
  std::string shown;
  bool error = false;
  bool refuse = false;
};
struct NamedParser {
  std::string name;
  std::function<Parsed(std::string_view)> parse;
};

template <class T, class Refuse>
Parsed parsed(const Result<T>& r, Refuse refuse) {
  return {show(r), !r.has_value(), r.has_value() && refuse(*r)};
}

inline std::vector<NamedParser> all_parsers() {
  const auto never = [](const auto&) { return false; };
  const auto forced = [](const auto& r) { return r.forced; };
  return {
      {"battery",
       [](std::string_view t) {
         return parsed(parse_battery(t), [](const BatteryReading& r) { return r.updates_stopped; });
       }},
      {"cell", [never](std::string_view t) { return parsed(parse_cell(t), never); }},
      {"sensors",
       [](std::string_view t) {
         return parsed(parse_sensor_events(t, 36), [](const SensorReading& r) { return r.masked; });
       }},
      {"supply", [never](std::string_view t) { return parsed(parse_supply(t), never); }},
      {"link speed", [never](std::string_view t) { return parsed(parse_link_speed(t), never); }},
      {"wifi", [never](std::string_view t) { return parsed(parse_wifi(t), never); }},
      {"bluetooth", [never](std::string_view t) { return parsed(parse_bluetooth(t), never); }},
      {"nfc", [never](std::string_view t) { return parsed(parse_nfc(t), never); }},
      {"sim", [never](std::string_view t) { return parsed(parse_sim(t), never); }},
      {"mobile", [never](std::string_view t) { return parsed(parse_mobile(t), never); }},
      {"fingerprint", [never](std::string_view t) { return parsed(parse_fingerprint_readers(t), never); }},
      {"input devices", [never](std::string_view t) { return parsed(parse_input_devices(t), never); }},
      {"device state", [forced](std::string_view t) { return parsed(parse_device_state(t), forced); }},
      {"thermal", [forced](std::string_view t) { return parsed(parse_thermal(t), forced); }},
      {"cameras", [never](std::string_view t) { return parsed(parse_cameras(t), never); }},
      {"display size",
       [](std::string_view t) {
         return parsed(parse_wm_size(t), [](const DisplaySize& r) { return r.overridden; });
       }},
      {"input events",
       [](std::string_view t) {
         InputEventParser p;
         std::vector<InputEvent> events;
         p.feed(t, events);
         p.feed("\n", events);
         return Parsed{show(events), false, false};
       }},
  };
}
}  // namespace hb::phone
