/// Style sheets of the HTML faces. The colours are those of drawing.hpp's palette.
#pragma once

#include <string_view>

namespace hb::sheet {
extern const std::string_view kCommonCss;
extern const std::string_view kCustomerCss;
extern const std::string_view kShopCss;
}  // namespace hb::sheet
