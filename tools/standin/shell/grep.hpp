/// As much of grep as a filter on the phone needs: -c, -o, -E, -m N and one pattern. Private to this folder.
/// Threads: pure.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace hb::standin {
struct Found {
  int status = 2;  ///< 0 something fits, 1 nothing does, 2 the command is wrong (POSIX grep)
  std::string text;
};
/// `words`: the command with its own name first.
[[nodiscard]] Found grep(const std::vector<std::string>& words, std::string_view input);
}  // namespace hb::standin
