#include <qrencode.h>

#include <memory>

#include "drawing.hpp"

namespace hb::sheet {
namespace {
constexpr int kQuiet = 4;                // ISO/IEC 18004, 6.3.8
constexpr std::size_t kMaxBytes = 1200;  // version 25 at level M: modules of 0.3 mm at the sheet's size
}  // namespace

Result<Drawing> qr_code(const std::string& text, double size, const Language& l) {
  if (text.empty() || text.size() > kMaxBytes || text.find('\0') != std::string::npos)
    return Error{ErrorCode::invalid_argument, "the text of the QR code is empty or too long", "qr_text",
                 "Give the signed summary, at most 1200 bytes."};
  const std::unique_ptr<QRcode, void (*)(QRcode*)> code(
      QRcode_encodeString8bit(text.c_str(), 0, QR_ECLEVEL_M), QRcode_free);
  if (!code)
    return Error{ErrorCode::internal, "the QR code could not be made", "qr_text", "Report this as a defect."};
  Drawing d{size,
            size,
            l.tr("Signed result of this sheet as a QR code"),
            l.tr("To be read by a bench that checks the sheet."),
            {}};
  const double m = size / (code->width + 2 * kQuiet);
  const Pen dark{.fill = 0x000000, .stroke = -1, .width = 0, .dash = {}};
  d.add(Box{0, 0, size, size, 0, Pen{.fill = palette::paper, .stroke = -1, .width = 0, .dash = {}}});
  for (int y = 0; y < code->width; ++y)
    for (int x = 0; x < code->width;) {
      int end = x;
      while (end < code->width && (code->data[y * code->width + end] & 1U)) ++end;
      if (end > x) d.add(Box{(kQuiet + x) * m, (kQuiet + y) * m, (end - x) * m, m, 0, dark});
      x = end + 1;
    }
  return d;
}
}  // namespace hb::sheet
