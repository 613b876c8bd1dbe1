#include "given.hpp"

#include <iostream>
#include <iterator>

#include "home.hpp"

namespace hb::cli {
namespace {
constexpr std::size_t kMax = 64U << 20;

Result<std::string> standard_input() {
  std::string text;
  for (std::istreambuf_iterator<char> it(std::cin), end; it != end && text.size() <= kMax; ++it) text += *it;
  if (text.size() > kMax)
    return Error{ErrorCode::bad_format, "far too much was given", "standard input",
                 "Pipe one sheet, record, picture or QR text in."};
  return text;
}
}  // namespace

Result<std::string> document_given(const std::string& file) {
  return file == "-" ? standard_input() : read_file(file, kMax);
}
}  // namespace hb::cli
