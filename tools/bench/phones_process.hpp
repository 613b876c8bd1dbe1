/// Stand-in phones in a process of their own, so that their memory and time are not the bench's.
/// Start them before any thread or io_context of this process exists.
#pragma once

#include <sys/types.h>

#include <cstdint>
#include <vector>

#include "tools/standin/whole/whole.hpp"

namespace hb::bench {
struct Ports {
  std::uint16_t wire = 0, jig = 0;
};

class PhonesProcess {
 public:
  /// `count` phones like `options`, with seeds counted up. Throws std::runtime_error.
  PhonesProcess(std::size_t count, const standin::WholeOptions& options);
  PhonesProcess(const PhonesProcess&) = delete;
  PhonesProcess& operator=(const PhonesProcess&) = delete;
  ~PhonesProcess();  ///< ends the process
  [[nodiscard]] const std::vector<Ports>& ports() const noexcept { return ports_; }
  /// Processor seconds that it has used.
  [[nodiscard]] double cpu_s() const;

 private:
  pid_t pid_ = -1;
  std::vector<Ports> ports_;
};

/// A line of /proc/self/status in KiB, such as "VmHWM"; 0 when there is none.
[[nodiscard]] long long memory_kib(const char* what);
/// Sets VmHWM back to what is resident now (Linux, proc(5): clear_refs).
void forget_peak();
}  // namespace hb::bench
