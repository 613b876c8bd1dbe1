/// Frames of a lens as a film that Chromium takes for a camera: YUV4MPEG2, 4:2:0, BT.601 limited range (Rec.
/// ITU-R BT.601-7), which is how Chromium 156 reads such a file (checked with grey and colour bars: Y 16 ->
/// 0, 126 -> 128, 235 -> 255; Y 81 Cb 90 Cr 240 -> red). Grey keeps 219 levels; colour is halved in
/// resolution. Threads: pure.
#pragma once

#include <string>

#include "tools/standin/optics/optics.hpp"

namespace hb::standin {
/// `frames` pictures, the first numbered `first`; width and height are even.
[[nodiscard]] std::string film(const Lens& lens, int frames, std::uint64_t first);
}  // namespace hb::standin
