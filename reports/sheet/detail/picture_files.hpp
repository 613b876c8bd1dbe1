/// Private to the reading of pictures: one kind of file each. Errors: bad_format.
#pragma once

#include <functional>

#include "../qr_picture.hpp"

namespace hb::sheet {
inline constexpr std::uint64_t kMaxPixels = 120'000'000;  ///< a phone's largest photo, and no bomb
inline constexpr std::uint64_t kMaxLeptPixels = 50'000'000;
inline constexpr std::size_t kMaxPictureFile = 64U << 20;

[[nodiscard]] Error broken_picture(const char* what);
/// Room for the pixels. Errors: bad_format beyond `max` pixels or 30000 a side.
[[nodiscard]] Result<GreyPicture> sized(std::uint64_t width, std::uint64_t height,
                                        std::uint64_t max = kMaxPixels);

/// WebP, BMP, GIF and a page of a TIFF, by Leptonica.
[[nodiscard]] bool is_lept_picture(std::string_view bytes) noexcept;
[[nodiscard]] bool is_tiff(std::string_view bytes) noexcept;
[[nodiscard]] Result<GreyPicture> decode_lept(std::string_view bytes, int page = 0);

/// Each picture of a PDF, decoded or the reason why not, until `visit` returns false. At most 40.
[[nodiscard]] Result<void> each_pdf_picture(std::string_view pdf,
                                            const std::function<bool(Result<GreyPicture>)>& visit);
}  // namespace hb::sheet
