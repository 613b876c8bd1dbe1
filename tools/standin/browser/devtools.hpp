/// A Chromium process and the DevTools protocol (protocol 1.3) over its debugging pipe: JSON messages ended
/// by NUL on the child's descriptors 3 and 4, so that no port is opened. Used to tap a page as a finger
/// would. Threads: the io_context's thread. Destroying it ends the whole process group that it started and
/// removes the profile folder.
#pragma once

#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "harness/net/asio.hpp"

namespace hb::standin {

/// A folder under the system's temporary one; removed with all it holds.
class TempFolder {
 public:
  TempFolder();  ///< throws std::filesystem::filesystem_error
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const noexcept { return path_; }

 private:
  std::filesystem::path path_;
};

class Devtools {
 public:
  /// Starts `program` headless on about:blank, quiet on the network (only loopback names resolve), with
  /// `extra` flags. not_found when it cannot be started.
  [[nodiscard]] static Result<std::unique_ptr<Devtools>> launch(net::io_context& io, std::string program,
                                                                std::vector<std::string> extra);
  ~Devtools();
  Devtools(const Devtools&) = delete;
  Devtools& operator=(const Devtools&) = delete;

  /// Takes hold of the first page; later calls go to it. A phone's screen of 360 x 740 at 2 x is emulated.
  [[nodiscard]] net::awaitable<Result<void>> attach();
  /// One method; its "result". bad_format with the method's name when the browser says it failed.
  [[nodiscard]] net::awaitable<Result<nlohmann::json>> call(std::string method, nlohmann::json params);
  /// The value of a JavaScript expression in the page.
  [[nodiscard]] net::awaitable<Result<nlohmann::json>> evaluate(std::string expression);
  /// A finger's tap at a place in CSS pixels: a user gesture for the page.
  [[nodiscard]] net::awaitable<Result<void>> tap(double x, double y);
  [[nodiscard]] bool alive() const;
  /// Ends the process now; calls under way end with link_lost.
  void kill();

 private:
  struct Impl;
  [[nodiscard]] net::awaitable<Result<void>> attach_to(std::string target);
  [[nodiscard]] net::awaitable<Result<nlohmann::json>> touch(std::string type, double x, double y);
  explicit Devtools(std::shared_ptr<Impl> impl);
  std::shared_ptr<Impl> impl_;
};
}  // namespace hb::standin
