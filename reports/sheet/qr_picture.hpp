/// Reads QR codes out of a picture: a photo of a paper sheet, or a page drawn as an image. The picture lives
/// in memory only and is dropped with the call. PNG (ISO/IEC 15948) and JPEG (ITU-T T.81) are understood.
/// Errors: bad_format for anything that is no whole picture of these kinds, or is too large.
/// Threads: pure functions, any thread.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::sheet {

/// Luminance, one byte a pixel, rows from the top.
struct GreyPicture {
  unsigned width = 0, height = 0;
  std::vector<std::uint8_t> pixels;
};

/// True when the bytes start as a PNG or JPEG file does.
[[nodiscard]] bool is_picture(std::string_view bytes) noexcept;
[[nodiscard]] Result<GreyPicture> decode_picture(std::string_view bytes);
/// The texts of all QR codes that can be read, in no promised order; empty when there are none.
[[nodiscard]] Result<std::vector<std::string>> qr_texts(const GreyPicture& picture);

}  // namespace hb::sheet
