// Private to harness/cli: small drawings of what hands must do, for a terminal.
#pragma once

#include <string>

#include "checks/hands.hpp"

namespace hb::cli {

/// Lines of at most 40 columns, each with its line end; empty where words are enough.
[[nodiscard]] std::string picture(const checks::Ask& ask);

}  // namespace hb::cli
