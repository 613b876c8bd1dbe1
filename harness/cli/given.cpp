#include "given.hpp"

#include <algorithm>
#include <iostream>
#include <iterator>

#include "home.hpp"
#include "reports/sheet/qr_picture.hpp"

namespace hb::cli {
namespace {
constexpr std::size_t kMax = 64U << 20;

Result<std::string> standard_input() {
  std::string text;
  for (std::istreambuf_iterator<char> it(std::cin), end; it != end && text.size() <= kMax; ++it) text += *it;
  if (text.empty() || text.size() > kMax)
    return Error{ErrorCode::bad_format, text.empty() ? "nothing was given" : "far too much was given",
                 "standard input", "Pipe one sheet, record, picture or QR text in."};
  return text;
}
}  // namespace

Result<std::string> document_given(const std::string& file) {
  auto bytes = file == "-" ? standard_input() : read_file(file);
  if (!bytes || !sheet::is_picture(*bytes)) return bytes;
  const auto picture = sheet::decode_picture(*bytes);
  if (!picture) return picture.error();
  auto texts = sheet::qr_texts(*picture);
  if (!texts) return texts.error();
  // Beside the sheet's code there may be others in the photo: a signed text has two full stops.
  const auto is_signed = [](const std::string& t) { return std::count(t.begin(), t.end(), '.') == 2; };
  const auto it = std::find_if(texts->begin(), texts->end(), is_signed);
  if (it != texts->end()) return std::move(*it);
  return Error{ErrorCode::not_found,
               texts->empty() ? "no QR code can be read in this picture"
                              : "the code in this picture is not the one of a sheet",
               file, "Take the photo again: straight from above, near, in focus, with even light."};
}
}  // namespace hb::cli
