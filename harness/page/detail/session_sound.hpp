/// The sound commands of a session. Threads: as session.hpp.
#pragma once

#include "detail/session.hpp"

namespace hb::page {

/// What the page is told; see README.md.
[[nodiscard]] Bytes sound_command(const Command& command, std::uint64_t seq);
/// DOMException names of Media Capture and Streams (W3C), and the page script's own, compared and dropped.
[[nodiscard]] Error sound_error(std::string_view why);
}  // namespace hb::page
