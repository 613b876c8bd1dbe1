#include "picture_files.hpp"

#include <png.h>
#include <turbojpeg.h>
#include <zbar.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

namespace hb::sheet {
namespace {
constexpr std::string_view kPng("\x89PNG\r\n\x1a\n", 8), kJpeg("\xff\xd8\xff", 3);
constexpr int kMaxPages = 16;

Result<GreyPicture> decode_png(std::string_view bytes) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  const std::unique_ptr<png_image, void (*)(png_image*)> freed(&image, png_image_free);
  if (!png_image_begin_read_from_memory(&image, bytes.data(), bytes.size()))
    return broken_picture("this PNG picture cannot be read");
  image.format = PNG_FORMAT_GRAY;
  auto p = sized(image.width, image.height);
  if (!p) return p;
  const png_color white{255, 255, 255};
  if (!png_image_finish_read(&image, &white, p->pixels.data(), static_cast<png_int_32>(image.width), nullptr))
    return broken_picture("this PNG picture is not whole");
  return p;
}

Result<GreyPicture> decode_jpeg(std::string_view bytes) {
  const std::unique_ptr<void, int (*)(void*)> reader(tjInitDecompress(), tjDestroy);
  if (!reader) return broken_picture("the picture reader could not be started");
  const auto* data = reinterpret_cast<const unsigned char*>(bytes.data());
  const auto size = static_cast<unsigned long>(bytes.size());
  int width = 0, height = 0, sampling = 0, colours = 0;
  if (tjDecompressHeader3(reader.get(), data, size, &width, &height, &sampling, &colours) != 0 || width < 1 ||
      height < 1)
    return broken_picture("this JPEG picture cannot be read");
  auto p = sized(static_cast<std::uint64_t>(width), static_cast<std::uint64_t>(height));
  if (!p) return p;
  if (tjDecompress2(reader.get(), data, size, p->pixels.data(), width, 0, height, TJPF_GRAY, 0) != 0)
    return broken_picture("this JPEG picture is not whole");
  return p;
}

/// Mean of each square of 2 x 2: takes away noise and moire, at which a reader of fine modules can fail.
GreyPicture halved(const GreyPicture& p) {
  GreyPicture out{p.width / 2, p.height / 2, {}};
  out.pixels.reserve(std::size_t{out.width} * out.height);
  for (std::size_t y = 0; y < out.height; ++y) {
    const std::uint8_t *a = p.pixels.data() + 2 * y * p.width, *b = a + p.width;
    for (std::size_t x = 0; x < out.width; ++x)
      out.pixels.push_back(
          static_cast<std::uint8_t>((a[2 * x] + a[2 * x + 1] + b[2 * x] + b[2 * x + 1] + 2) / 4));
  }
  return out;
}

/// Bilinear.
GreyPicture scaled(const GreyPicture& p, double by) {
  const auto size = [by](unsigned n) { return static_cast<unsigned>(by * n); };
  GreyPicture out{size(p.width), size(p.height), {}};
  out.pixels.reserve(std::size_t{out.width} * out.height);
  struct Between {
    std::size_t at;
    double part;
  };
  const auto between = [by](std::size_t i, unsigned n) -> Between {
    const double x = std::clamp((static_cast<double>(i) + 0.5) / by - 0.5, 0.0, n - 1.001);
    return {static_cast<std::size_t>(x), x - std::floor(x)};
  };
  for (std::size_t y = 0; y < out.height; ++y) {
    const auto v = between(y, p.height);
    const std::uint8_t* row = p.pixels.data() + v.at * p.width;
    for (std::size_t x = 0; x < out.width; ++x) {
      const auto u = between(x, p.width);
      const std::uint8_t *a = row + u.at, *b = a + p.width;
      const double top = a[0] + u.part * (a[1] - a[0]), bottom = b[0] + u.part * (b[1] - b[0]);
      out.pixels.push_back(static_cast<std::uint8_t>(std::lround(top + v.part * (bottom - top))));
    }
  }
  return out;
}

std::vector<std::string> scan(const GreyPicture& p) {
  const std::unique_ptr<zbar::zbar_image_scanner_t, void (*)(zbar::zbar_image_scanner_t*)> scanner(
      zbar::zbar_image_scanner_create(), zbar::zbar_image_scanner_destroy);
  const std::unique_ptr<zbar::zbar_image_t, void (*)(zbar::zbar_image_t*)> image(zbar::zbar_image_create(),
                                                                                 zbar::zbar_image_destroy);
  zbar::zbar_image_scanner_set_config(scanner.get(), zbar::ZBAR_NONE, zbar::ZBAR_CFG_ENABLE, 0);
  zbar::zbar_image_scanner_set_config(scanner.get(), zbar::ZBAR_QRCODE, zbar::ZBAR_CFG_ENABLE, 1);
  constexpr unsigned long y800 = 'Y' | ('8' << 8) | ('0' << 16) | (static_cast<unsigned long>('0') << 24);
  zbar::zbar_image_set_format(image.get(), y800);
  zbar::zbar_image_set_size(image.get(), p.width, p.height);
  zbar::zbar_image_set_data(image.get(), p.pixels.data(), p.pixels.size(), nullptr);
  std::vector<std::string> found;
  if (zbar::zbar_scan_image(scanner.get(), image.get()) <= 0) return found;
  for (const auto* s = zbar::zbar_image_first_symbol(image.get()); s; s = zbar::zbar_symbol_next(s))
    found.emplace_back(zbar::zbar_symbol_get_data(s), zbar::zbar_symbol_get_data_length(s));
  return found;
}
}  // namespace

Error broken_picture(const char* what) {
  return Error{ErrorCode::bad_format, what, "picture",
               "Photograph the code again, as a PNG or JPEG picture."};
}

Result<GreyPicture> sized(std::uint64_t width, std::uint64_t height, std::uint64_t max) {
  if (width == 0 || height == 0 || width > 30000 || height > 30000 || width * height > max)
    return broken_picture("the picture is too large");
  GreyPicture p{static_cast<unsigned>(width), static_cast<unsigned>(height), {}};
  p.pixels.resize(static_cast<std::size_t>(width * height));
  return p;
}

bool is_picture(std::string_view bytes) noexcept {
  return bytes.substr(0, kPng.size()) == kPng || bytes.substr(0, kJpeg.size()) == kJpeg ||
         is_lept_picture(bytes);
}

std::string_view unread_picture(std::string_view bytes) noexcept {
  const auto box = bytes.substr(0, 12);
  if (box.size() == 12 && box.substr(4, 4) == "ftyp") {  // ISO/IEC 14496-12, 4.3; brands of ISO/IEC 23008-12
    const auto brand = box.substr(8, 4);
    if (brand.substr(0, 2) == "he" || brand == "mif1" || brand == "msf1") return "HEIF";
    if (brand.substr(0, 3) == "avi") return "AVIF";
  }
  if (box == std::string_view("\0\0\0\x0cjP  \r\n\x87\n", 12)) return "JPEG 2000";
  if (box == std::string_view("\0\0\0\x0cJXL \r\n\x87\n", 12) || box.substr(0, 2) == "\xff\x0a")
    return "JPEG XL";
  return {};
}

Result<GreyPicture> decode_picture(std::string_view bytes) {
  if (!is_picture(bytes)) return broken_picture("this is no picture of a kind that is read");
  if (bytes.size() > kMaxPictureFile) return broken_picture("the picture's file is too large");
  if (is_lept_picture(bytes)) return decode_lept(bytes);
  return bytes.substr(0, kPng.size()) == kPng ? decode_png(bytes) : decode_jpeg(bytes);
}

Result<std::vector<std::string>> qr_texts(const GreyPicture& picture) {
  if (picture.width == 0 || picture.height == 0 ||
      picture.pixels.size() != std::size_t{picture.width} * picture.height)
    return broken_picture("the picture's size does not fit its pixels");
  GreyPicture p = picture;
  for (;;) {
    auto found = scan(p);
    if (!found.empty()) return found;
    if (p.width < 400 || p.height < 400) break;
    p = halved(p);
  }
  // The reader's own grid can fall badly on the modules: another size moves it.
  constexpr double kSmallEnough = 24e6;
  for (const double by : {1.5, 0.75, 1.25, 2.0, 0.6}) {
    if (by * picture.width < 200 || by * picture.height < 200 ||
        by * by * picture.width * picture.height > kSmallEnough)
      continue;
    auto found = scan(scaled(picture, by));
    if (!found.empty()) return found;
  }
  return std::vector<std::string>{};
}

Result<std::vector<std::string>> codes_in_picture(std::string_view bytes) {
  const auto first = decode_picture(bytes);
  if (!first) return first.error();
  auto texts = qr_texts(*first);
  if (!is_tiff(bytes)) return texts;
  for (int page = 1; page < kMaxPages && texts && texts->empty(); ++page) {
    const auto next = decode_lept(bytes, page);
    if (!next) break;
    texts = qr_texts(*next);
  }
  return texts;
}

Result<PdfCodes> codes_in_pdf(std::string_view pdf) {
  PdfCodes out;
  const auto visited = each_pdf_picture(pdf, [&](Result<GreyPicture> picture) {
    ++out.pictures;
    if (!picture) return ++out.unread, true;
    auto texts = qr_texts(*picture);
    if (texts && texts->empty()) {  // a mask, or a fax whose black is 1
      for (auto& p : picture->pixels) p = static_cast<std::uint8_t>(255 - p);
      texts = qr_texts(*picture);
    }
    if (texts) out.texts.insert(out.texts.end(), texts->begin(), texts->end());
    return out.texts.empty();
  });
  if (!visited) return visited.error();
  return out;
}
}  // namespace hb::sheet
