/// sRGB to and from linear light. Source: IEC 61966-2-1 (transfer function and D65 primaries).
/// Linear light is 0..1 of the display white. Pure; any thread.
#pragma once

#include <array>
#include <cstdint>

namespace hb::kernel {

/// Coded value 0..1 to linear light; values outside are extended by the same formula's ends.
[[nodiscard]] double srgb_decode(double coded) noexcept;
/// Linear light to coded value.
[[nodiscard]] double srgb_encode(double linear) noexcept;
/// Linear light of each 8-bit code.
[[nodiscard]] const std::array<double, 256>& srgb_table() noexcept;
/// Nearest 8-bit code; clamped to 0..255. srgb_code(srgb_table()[c]) == c for all c.
[[nodiscard]] std::uint8_t srgb_code(double linear) noexcept;
/// Relative luminance of linear R, G, B: ITU-R BT.709 weights 0.2126, 0.7152, 0.0722.
[[nodiscard]] constexpr double luminance(double r, double g, double b) noexcept {
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

}  // namespace hb::kernel
