// Private to harness/cli: the stand-in phone as a child process.
#pragma once

#include <sys/types.h>

#include <cstdint>
#include <string>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::cli {
class StandinProcess {
 public:
  /// Starts `program` and reads its first line, {"port":..,"jig_port":..}. not_found, refused (its own words
  /// on stderr), timed_out.
  [[nodiscard]] static Result<StandinProcess> start(const std::string& program,
                                                    const std::vector<std::string>& args);
  StandinProcess(StandinProcess&& o) noexcept;
  StandinProcess& operator=(StandinProcess&&) = delete;
  ~StandinProcess();  ///< ends the child and waits for it
  std::uint16_t port = 0, jig_port = 0;

 private:
  StandinProcess() = default;
  pid_t pid_ = -1;
  int in_ = -1, out_ = -1;
};

/// The stand-in's program: beside our own, or on the PATH.
[[nodiscard]] std::string find_standin();
}  // namespace hb::cli
