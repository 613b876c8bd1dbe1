// Private to harness/cli: a document that somebody hands in to be checked.
#pragma once

#include <string>

#include "harness/base/result.hpp"

namespace hb::cli {
/// The bytes of `file`, or of standard input for "-". A PNG or JPEG picture gives the text of the QR code in
/// it, and is dropped. Errors: io, not_found (no such file; a picture without a code), bad_format.
[[nodiscard]] Result<std::string> document_given(const std::string& file);
}  // namespace hb::cli
