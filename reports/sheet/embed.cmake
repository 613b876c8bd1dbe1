# Writes a script into a C++ source as it is: cmake -DOUT=f.cpp -DSCRIPT=f.js -P embed.cmake
file(READ ${SCRIPT} text HEX)
string(REGEX REPLACE "(..)" "0x\\1," bytes "${text}")
file(WRITE ${OUT} "// Written by reports/sheet/embed.cmake.
#include \"detail/self_check.hpp\"

namespace hb::sheet {
namespace {
constexpr unsigned char bytes[] = {${bytes}};
}
std::string_view self_check_script() noexcept {
  return {reinterpret_cast<const char*>(bytes), sizeof(bytes)};
}
}  // namespace hb::sheet
")
