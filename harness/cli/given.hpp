// Private to harness/cli: a document that somebody hands in to be checked.
#pragma once

#include <string>

#include "harness/base/result.hpp"

namespace hb::cli {
/// The bytes of `file`, or of standard input for "-"; there may be none. Errors: io, not_found,
/// invalid_argument (a folder), bad_format (far too much).
[[nodiscard]] Result<std::string> document_given(const std::string& file);
}  // namespace hb::cli
