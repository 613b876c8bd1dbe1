#include "checks/kernel/srgb.hpp"

#include <algorithm>
#include <cmath>

namespace hb::kernel {

double srgb_decode(double c) noexcept {
  return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
}

double srgb_encode(double l) noexcept {
  return l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1 / 2.4) - 0.055;
}

const std::array<double, 256>& srgb_table() noexcept {
  static const std::array<double, 256> table = [] {
    std::array<double, 256> t{};
    for (std::size_t c = 0; c < t.size(); ++c) t[c] = srgb_decode(static_cast<double>(c) / 255);
    return t;
  }();
  return table;
}

std::uint8_t srgb_code(double linear) noexcept {
  return static_cast<std::uint8_t>(std::lround(255 * std::clamp(srgb_encode(linear), 0.0, 1.0)));
}
}  // namespace hb::kernel
