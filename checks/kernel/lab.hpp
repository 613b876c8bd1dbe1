/// CIELAB under D65 from linear sRGB, and the CIEDE2000 colour difference. Pure; any thread.
/// Sources: IEC 61966-2-1 (RGB to XYZ), CIE 15 (L*a*b*), Sharma, Wu, Dalal, "The CIEDE2000 color-difference
/// formula: implementation notes", Color Research and Application 30 (2005), with kL = kC = kH = 1.
#pragma once

namespace hb::kernel {

struct Lab {
  double l = 0, a = 0, b = 0;
};

/// Linear sRGB, 1 1 1 being the D65 white (L* 100, a* 0, b* 0).
[[nodiscard]] Lab lab_of_linear_srgb(double r, double g, double b) noexcept;

/// Colour difference dE00; symmetric; 1 is about just noticeable.
[[nodiscard]] double ciede2000(const Lab& one, const Lab& two) noexcept;

}  // namespace hb::kernel
