/// Runs real programs in tests: what they print, and how they end.
#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace hb::test {

struct Finished {
  int code = -1;
  std::string out, err;
  [[nodiscard]] nlohmann::json json() const { return nlohmann::json::parse(out, nullptr, false); }
};

/// Waits for the end; after `seconds` the program is killed and code is 124.
[[nodiscard]] Finished run(const std::vector<std::string>& words, int seconds = 120,
                           const std::string& input = "");

/// A program in the background; its first line of standard output is read, and it is ended with the object.
class Background {
 public:
  explicit Background(const std::vector<std::string>& words);
  ~Background();
  Background(const Background&) = delete;
  Background& operator=(const Background&) = delete;
  [[nodiscard]] const std::string& first_line() const { return line_; }

 private:
  int pid_ = -1, out_ = -1;
  std::string line_;
};

/// True when a program of this name is on the PATH.
[[nodiscard]] bool have(const std::string& program);

/// A fresh folder, removed with the object.
class TempFolder {
 public:
  TempFolder();
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] std::string operator/(const std::string& name) const { return (path_ / name).string(); }

 private:
  std::filesystem::path path_;
};

/// Every regular file below `folder`, with its bytes.
[[nodiscard]] std::vector<std::pair<std::filesystem::path, std::string>> all_files(
    const std::filesystem::path& folder);
[[nodiscard]] std::string slurp(const std::filesystem::path& file);
}  // namespace hb::test
