/// The inputs that both customer faces check alike.
#pragma once

#include "../sheet.hpp"

namespace hb::sheet {
[[nodiscard]] Result<void> check(const SheetInputs& inputs);
}  // namespace hb::sheet
