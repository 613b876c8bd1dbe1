/// Commands on a link: shell v2 with its framing, the plain form, and one-answer services.
/// Threads: the link's strand. All parameters are owned by the coroutines.
#pragma once

#include <string>

#include "harness/link/detail/core.hpp"

namespace hb::link::detail {
[[nodiscard]] net::awaitable<Result<ShellOutput>> run_shell(Core::Self core, std::string command,
                                                            TimePoint deadline, std::size_t max_output);
[[nodiscard]] net::awaitable<Result<std::unique_ptr<Stream>>> open_pty(Core::Self core, std::string command,
                                                                       TimePoint deadline);
/// Everything that a service sends until it closes; bad_format above `max` bytes.
[[nodiscard]] net::awaitable<Result<std::string>> ask(Core::Self core, std::string service,
                                                      TimePoint deadline, std::size_t max);
}  // namespace hb::link::detail
