// Pictures, PDFs and pages as somebody hands them in: decoding and reading of text, without the search for
// codes. First byte: what the rest is.
//   p  a picture      d  a PDF's pictures and text      h  an HTML page      j  a PDF's attachment
#include <cstdint>
#include <string_view>

#include "reports/sheet/page_text.hpp"
#include "reports/sheet/qr_picture.hpp"
#include "reports/sheet/sheet.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::string_view rest(reinterpret_cast<const char*>(data) + 1, size - 1);
  switch (data[0]) {
    case 'p':
      (void)hb::sheet::unread_picture(rest);
      (void)hb::sheet::decode_picture(rest).has_value();
      break;
    case 'd':
      (void)hb::sheet::codes_in_pdf(rest).has_value();
      (void)hb::sheet::pdf_words(rest).has_value();
      break;
    case 'h': {
      const auto words = hb::sheet::html_words(rest);
      (void)hb::sheet::contradiction({"a", "b", "1", "c", "d"}, *words, {"b"}).has_value();
      break;
    }
    default:
      (void)hb::sheet::attached_record(rest).has_value();
  }
  return 0;
}
