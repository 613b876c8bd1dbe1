#include "harness/net/clock.hpp"

namespace hb::net {
std::int64_t utc_now_s() {
  return std::chrono::duration_cast<std::chrono::seconds>(std::chrono::system_clock::now().time_since_epoch())
      .count();
}
}  // namespace hb::net
