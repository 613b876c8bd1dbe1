# Writes files into one C++ source as they are:
#   cmake -DOUT=f.cpp -DSCRIPT=f.js -P embed.cmake                    the page's script
#   cmake -DOUT=f.cpp -DCATALOGUES="folder/de.mo;..." -P embed.cmake  the translations, named after their files
function(bytes_of file variable)
  file(READ ${file} text HEX)
  string(REGEX REPLACE "(..)" "'\\\\x\\1'," bytes "${text}")
  set(${variable} "${bytes}" PARENT_SCOPE)
endfunction()

if(SCRIPT)
  bytes_of(${SCRIPT} bytes)
  file(WRITE ${OUT} "// Written by reports/sheet/embed.cmake.
#include \"detail/self_check.hpp\"

namespace hb::sheet {
namespace {
constexpr char bytes[] = {${bytes}};
}
std::string_view self_check_script() noexcept { return {bytes, sizeof(bytes)}; }
}  // namespace hb::sheet
")
else()
  set(arrays "")
  set(rows "")
  foreach(file ${CATALOGUES})
    get_filename_component(code ${file} NAME_WE)
    bytes_of(${file} bytes)
    string(APPEND arrays "constexpr char mo_${code}[] = {${bytes}};\n")
    string(APPEND rows "    {\"${code}\", {mo_${code}, sizeof(mo_${code})}},\n")
  endforeach()
  file(WRITE ${OUT} "// Written by reports/sheet/embed.cmake.
#include \"detail/catalogues.hpp\"

namespace hb::sheet {
namespace {
${arrays}constexpr Catalogue all[] = {
${rows}};
}
std::span<const Catalogue> catalogues() noexcept { return all; }
}  // namespace hb::sheet
")
endif()
