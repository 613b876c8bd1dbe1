/// Reads QR codes out of a picture: a photo or a scan of a paper sheet, or a page drawn as an image. The
/// picture lives in memory only and is dropped with the call. Read are PNG (ISO/IEC 15948), JPEG (ITU-T
/// T.81), WebP (RFC 9649), TIFF (revision 6.0, up to 16 pages), BMP, GIF (GIF89a, its first picture), and the
/// pictures inside a PDF (ISO 32000-1, 8.9: DCT, Flate and CCITT; not JBIG2, not JPEG 2000). Bounds: 64 MiB a
/// file; 120 million pixels of a PNG or JPEG, 50 million of the others, known before a pixel is decoded; 40
/// pictures of a PDF. Errors: bad_format for what is no whole picture of these kinds, or is too large.
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

/// True when the bytes start as a picture does that is read here.
[[nodiscard]] bool is_picture(std::string_view bytes) noexcept;
/// "HEIF", "JPEG 2000", ...: what the bytes start as, when it is a picture that is not read here; else empty.
[[nodiscard]] std::string_view unread_picture(std::string_view bytes) noexcept;
/// The first picture of the file.
[[nodiscard]] Result<GreyPicture> decode_picture(std::string_view bytes);
/// The texts of all QR codes that can be read, in no promised order; empty when there are none.
[[nodiscard]] Result<std::vector<std::string>> qr_texts(const GreyPicture& picture);
/// Of every page of a picture.
[[nodiscard]] Result<std::vector<std::string>> codes_in_picture(std::string_view bytes);

/// `pictures`: how many the PDF holds; `unread`: those that could not be decoded.
struct PdfCodes {
  std::vector<std::string> texts;
  int pictures = 0, unread = 0;
};
/// Of the pictures that a PDF holds, dark on light or light on dark. Errors: bad_format (no readable PDF).
[[nodiscard]] Result<PdfCodes> codes_in_pdf(std::string_view pdf);

}  // namespace hb::sheet
