/// Commands of sound, as the built-in browser does them. Threads: pure.
#pragma once

#include <nlohmann/json.hpp>
#include <vector>

#include "tools/standin/physics/sound.hpp"

namespace hb::standin {
inline bool of_sound(const nlohmann::json& command) {
  const auto what = command.value("do", "");
  return what == "sound_places" || what == "sweep";
}
inline Playing playing_of(const nlohmann::json& c) {
  Playing p;
  p.output = c.value("output", 0), p.microphone = c.value("microphone", 0);
  p.f1_hz = c.value("f1", p.f1_hz), p.f2_hz = c.value("f2", p.f2_hz);
  p.sweep_s = c.value("seconds", p.sweep_s), p.level = c.value("level", p.level);
  p.lead_s = c.value("lead", p.lead_s), p.tail_s = c.value("tail", p.tail_s);
  return p;
}
/// 16 bit, low byte first.
inline std::vector<std::uint8_t> bytes_of(const std::vector<std::int16_t>& samples) {
  std::vector<std::uint8_t> out;
  out.reserve(2 * samples.size());
  for (const std::int16_t v : samples) {
    const auto code = static_cast<std::uint16_t>(v);
    out.push_back(static_cast<std::uint8_t>(code & 255)), out.push_back(static_cast<std::uint8_t>(code >> 8));
  }
  return out;
}
}  // namespace hb::standin
