# Writes the page's files into one C++ source: cmake -DOUT=f.cpp -DASSETS=a;b -DDIR=folder -P embed.cmake
set(arrays "")
set(table "")
set(i 0)
foreach(a ${ASSETS})
  file(READ ${DIR}/${a} bytes HEX)
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${bytes}")
  string(APPEND arrays "constexpr unsigned char file_${i}[] = {${bytes}};\n")
  string(APPEND table "    {\"${a}\", {file_${i}, sizeof(file_${i})}},\n")
  math(EXPR i "${i} + 1")
endforeach()
file(WRITE ${OUT} "// Written by harness/page/embed.cmake.
#include \"detail/assets.hpp\"

namespace hb::page {
namespace {
${arrays}
constexpr Asset files[] = {
${table}};
}  // namespace
std::span<const Asset> assets() { return files; }
}  // namespace hb::page
")
