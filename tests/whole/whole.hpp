// Shared by the tests of the whole programs.
#pragma once

#include <string>
#include <vector>

#include "tests/support/process.hpp"

namespace hb::test {
inline std::string handback() { return std::string(HB_BINARY_DIR) + "/bin/handback"; }
inline std::string standin() { return std::string(HB_BINARY_DIR) + "/bin/standin"; }

/// `handback demo --json --quiet --out FOLDER ...`
inline Finished demo(const std::string& folder, std::vector<std::string> more, bool quiet = true) {
  std::vector<std::string> words{handback(), "--json"};
  if (quiet) words.emplace_back("--quiet");
  words.insert(words.end(), {"demo", "--out", folder});
  words.insert(words.end(), more.begin(), more.end());
  return run(words, 240);
}
}  // namespace hb::test
