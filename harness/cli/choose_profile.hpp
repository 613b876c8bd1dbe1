// Private to harness/cli: where profiles are looked for.
#pragma once

#include <vector>

#include "home.hpp"

namespace hb::cli {
/// The bench's own first, then the shipped ones.
[[nodiscard]] std::vector<fs::path> profile_folders(const Home& home);
}  // namespace hb::cli
