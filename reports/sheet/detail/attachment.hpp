/// Files inside a PDF, and the slot behind it.
#pragma once

#include <string>

#include "harness/base/result.hpp"

namespace hb::sheet {

/// `pdf` rewritten with the attachment "record.jws", the document language and a deterministic id.
[[nodiscard]] Result<std::string> attach(const std::string& pdf, const std::string& record_jws,
                                         const std::string& language);

/// `pdf` and behind its end a comment `%slot`, then the same `startxref` again (ISO 32000-1, 7.5.5: readers
/// take the last one; 7.2.3: a comment is ignored).
[[nodiscard]] Result<std::string> with_slot(std::string pdf, const std::string& slot);

}  // namespace hb::sheet
