/// What the tagged PDF still lacks when Cairo 1.16 has written it.
#pragma once

#include <string>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::sheet {
/// `pdf` with `figures` as the words for its Figure elements, in their order, and the scope of its table's
/// headers (ISO 32000-1, 14.9.3 and 14.8.5.7). Deterministic.
[[nodiscard]] Result<std::string> structured(const std::string& pdf, const std::vector<std::string>& figures);
}  // namespace hb::sheet
