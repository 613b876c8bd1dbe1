/// What the stand-in can tell about itself without being a phone.
#pragma once

#include <cstdint>
#include <string>

namespace hb::standin {
[[nodiscard]] std::string fault_table(bool as_json);
[[nodiscard]] std::string canary_table(std::uint64_t seed, bool as_json);
}  // namespace hb::standin
