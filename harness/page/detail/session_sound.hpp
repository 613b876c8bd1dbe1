/// The sound commands of a session. Threads: as session.hpp.
#pragma once

#include "detail/session.hpp"

namespace hb::page {

/// A request, taken apart.
struct Session::Target {
  std::string_view name;  // path below /TOKEN/
  std::uint64_t tab = 0, seq = 0, seen = 0;
  long long i = -1, w = 0, h = 0, rate = 0;
  double t = 0;
};

/// What the page is told; see README.md.
[[nodiscard]] Bytes sound_command(const Command& command, std::uint64_t seq);
/// DOMException names of Media Capture and Streams (W3C), and the page script's own, compared and dropped.
[[nodiscard]] Error sound_error(std::string_view why);
}  // namespace hb::page
