#include "checks/follow.hpp"

namespace hb::checks {

Error not_done_in_time(const char* where) {
  return {ErrorCode::timed_out, "what was asked was not done in time", where,
          "Run the check again and follow the prompts."};
}

bool ends_the_check(const Error& e) noexcept {
  return e.code == ErrorCode::link_lost || e.code == ErrorCode::cancelled;
}

}  // namespace hb::checks
