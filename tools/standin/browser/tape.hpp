/// Samples as a sound file: RIFF WAVE, 16 bit, mono (from memory). Threads: pure.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace hb::standin {
[[nodiscard]] inline std::string wav(const std::vector<std::int16_t>& samples, int rate_hz) {
  std::string out;
  const auto number = [&](std::size_t v, int bytes) {
    for (int k = 0; k < bytes; ++k, v >>= 8) out += static_cast<char>(v & 255);
  };
  const std::size_t size = 2 * samples.size(), rate = static_cast<std::size_t>(rate_hz);
  out += "RIFF", number(36 + size, 4), out += "WAVEfmt ", number(16, 4);
  number(1, 2), number(1, 2), number(rate, 4), number(2 * rate, 4), number(2, 2), number(16, 2);
  out += "data", number(size, 4);
  for (const std::int16_t v : samples) number(static_cast<std::uint16_t>(v), 2);
  return out;
}
}  // namespace hb::standin
