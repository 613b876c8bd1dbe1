#include "picture_files.hpp"

#include <leptonica/allheaders.h>

#include <memory>
#include <optional>

namespace hb::sheet {
namespace {
using Pixels = std::unique_ptr<PIX, void (*)(PIX*)>;
Pixels owned(PIX* p) {
  return {p, [](PIX* gone) { pixDestroy(&gone); }};
}

const l_uint8* octets(std::string_view bytes) { return reinterpret_cast<const l_uint8*>(bytes.data()); }

unsigned octet(std::string_view bytes, std::size_t at) { return static_cast<unsigned char>(bytes[at]); }

/// The first picture of a GIF with the file's end put behind it: of the others each could claim 65535 x 65535
/// pixels. Blocks: GIF89a specification, 17 to 27.
std::optional<std::string> first_frame(std::string_view gif) {
  const auto word = [&](std::size_t at) { return octet(gif, at) | octet(gif, at + 1) << 8; };
  const auto table = [](unsigned flags) { return (flags & 0x80U) != 0 ? 3U << ((flags & 7U) + 1) : 0U; };
  std::size_t at = 13;
  if (gif.size() < at) return std::nullopt;
  at += table(octet(gif, 10));
  const auto skip_blocks = [&]() {
    while (at < gif.size() && octet(gif, at) != 0) at += octet(gif, at) + 1;
    return at++ < gif.size();
  };
  while (at < gif.size()) {
    if (octet(gif, at) == 0x21) {
      at += 2;
      if (!skip_blocks()) return std::nullopt;
      continue;
    }
    if (octet(gif, at) != 0x2c || at + 11 > gif.size()) return std::nullopt;
    if (!sized(word(at + 5), word(at + 7), kMaxLeptPixels)) return std::nullopt;
    at += 10 + table(octet(gif, at + 9)) + 1;
    if (!skip_blocks()) return std::nullopt;
    return std::string(gif.substr(0, at)) + ";";
  }
  return std::nullopt;
}

Result<GreyPicture> greyed(PIX* decoded) {
  const auto whole = owned(decoded);
  if (!whole) return broken_picture("this picture is not whole, or of a kind that is not read");
  const auto opaque = owned(pixRemoveAlpha(whole.get()));
  const auto grey = owned(opaque ? pixConvertTo8(opaque.get(), 0) : nullptr);
  if (!grey) return broken_picture("this picture's colours cannot be read");
  const auto width = static_cast<unsigned>(pixGetWidth(grey.get())),
             height = static_cast<unsigned>(pixGetHeight(grey.get()));
  auto p = sized(width, height, kMaxLeptPixels);
  if (!p) return p;
  const l_uint32* words = pixGetData(grey.get());
  const auto words_a_row = static_cast<std::size_t>(pixGetWpl(grey.get()));
  for (unsigned y = 0; y < height; ++y)
    for (unsigned x = 0; x < width; ++x)
      p->pixels[std::size_t{y} * width + x] =
          static_cast<std::uint8_t>(words[y * words_a_row + x / 4] >> (8 * (3 - x % 4)));
  return p;
}
}  // namespace

bool is_tiff(std::string_view b) noexcept {
  return b.substr(0, 4) == std::string_view("II*\0", 4) || b.substr(0, 4) == std::string_view("MM\0*", 4);
}

bool is_lept_picture(std::string_view b) noexcept {
  const bool gif = b.substr(0, 6) == "GIF87a" || b.substr(0, 6) == "GIF89a";
  const bool webp = b.substr(0, 4) == "RIFF" && b.size() > 12 && b.substr(8, 4) == "WEBP";
  // "BM" alone begins many texts: the four reserved octets are zero and the header's size is a known one.
  const bool bmp = b.substr(0, 2) == "BM" && b.size() > 18 &&
                   b.substr(6, 4) == std::string_view("\0\0\0\0", 4) && octet(b, 14) <= 124 &&
                   octet(b, 15) == 0;
  return gif || webp || bmp || is_tiff(b);
}

Result<GreyPicture> decode_lept(std::string_view bytes, int page) {
  setMsgSeverity(L_SEVERITY_NONE);  // it would write to the terminal
  if (bytes.substr(0, 3) == "GIF") {
    const auto one = first_frame(bytes);
    if (!one) return broken_picture("this GIF picture is not whole, or too large");
    return greyed(pixReadMem(octets(*one), one->size()));
  }
  l_int32 format = 0, width = 0, height = 0, bits = 0, samples = 0, map = 0, resolution = 0;
  const bool tiff = is_tiff(bytes);
  const auto failed =
      tiff ? readHeaderMemTiff(octets(bytes), bytes.size(), page, &width, &height, &bits, &samples,
                               &resolution, &map, &format)
           : pixReadHeaderMem(octets(bytes), bytes.size(), &format, &width, &height, &bits, &samples, &map);
  if (failed != 0 || width < 1 || height < 1) return broken_picture("this picture cannot be read");
  if (auto fits = sized(static_cast<unsigned>(width), static_cast<unsigned>(height), kMaxLeptPixels); !fits)
    return fits;
  if (tiff) return greyed(pixReadMemTiff(octets(bytes), bytes.size(), page));
  return greyed(pixReadMem(octets(bytes), bytes.size()));
}
}  // namespace hb::sheet
