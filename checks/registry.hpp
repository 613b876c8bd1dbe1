/// Every check that this build knows, in the order of their folder names.
/// Threads: each call makes new objects; any thread.
#pragma once

#include <memory>
#include <vector>

#include "checks/definition.hpp"

namespace hb::checks {
[[nodiscard]] std::vector<std::unique_ptr<AnyCheck>> all_checks();
}
