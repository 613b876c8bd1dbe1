/// A fresh folder that goes away with the test.
#pragma once

#include <stdlib.h>
#include <unistd.h>

#include <cstdint>
#include <filesystem>
#include <stdexcept>
#include <string>

namespace hb::testing_support {
/// A folder in memory if there is one with that much room, for tests that sync a great deal and do not rest
/// on a real disk; else the usual one.
inline std::filesystem::path quick_folder(std::uintmax_t room) {
  const std::filesystem::path memory = "/dev/shm";
  std::error_code ec;
  const auto space = std::filesystem::space(memory, ec);
  return !ec && space.available > room && ::access(memory.c_str(), W_OK) == 0
             ? memory
             : std::filesystem::temp_directory_path();
}

class TempFolder {
 public:
  TempFolder() : TempFolder(std::filesystem::temp_directory_path()) {}
  explicit TempFolder(const std::filesystem::path& under) {
    std::string name = (under / "handback-test-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = name;
  }
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  ~TempFolder() {
    std::error_code ec;
    std::filesystem::remove_all(path_, ec);
  }
  [[nodiscard]] std::filesystem::path operator/(const char* name) const { return path_ / name; }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};
}  // namespace hb::testing_support
