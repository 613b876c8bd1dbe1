/// The compiled catalogues of reports/sheet/po, as bytes of the program.
#pragma once

#include <span>
#include <string_view>

namespace hb::sheet {
struct Catalogue {
  std::string_view code;  ///< BCP 47
  std::string_view mo;    ///< a .mo file (GNU gettext manual, "The Format of GNU MO Files")
};
[[nodiscard]] std::span<const Catalogue> catalogues() noexcept;
}  // namespace hb::sheet
