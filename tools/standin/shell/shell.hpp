/// The phone side of the stand-in: answers shell commands from the state of one World.
/// A command moves stepped time by 20 ms before it is answered. What a terminal does to text
/// (line ends, stderr joined) is the wire side's work. Threads: the stand-in's one thread.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>

#include "tools/standin/device.hpp"
#include "tools/standin/hands/timekeeper.hpp"
#include "tools/standin/hands/world.hpp"

namespace hb::standin {
class Shell final : public Services {
 public:
  /// `world` and `time` outlive this.
  Shell(World& world, Timekeeper& time) : world_(world), time_(time) {}

  [[nodiscard]] std::map<std::string, std::string> banner() const override;
  void shell(std::string command, bool pty, std::shared_ptr<Output> output) override;
  [[nodiscard]] std::optional<std::string> read_file(const std::string& path) override;
  [[nodiscard]] std::shared_ptr<const std::string> shared_file(const std::string& path) override;
  [[nodiscard]] bool write_file(const std::string& path, std::string content) override;
  void forwards_changed() override {}

  /// Opens a page in the phone's browser; unset: the phone has none.
  std::function<void(std::string url)> on_open_url;

 private:
  friend class CommandRun;
  World& world_;
  Timekeeper& time_;
  std::map<std::string, std::shared_ptr<const std::string>>
      scratch_;  ///< files under /data/local/tmp and /sdcard/Download
  int stay_on_ = 0;
};
}  // namespace hb::standin
