/// Shared by the calls of a Phone: sending one closed command, and the commands that act on the phone.
/// Errors as harness/phone/phone.hpp. Threads: the link's strand.
#pragma once

#include "commands.hpp"

namespace hb::phone::detail {
using LinkPtr = std::shared_ptr<link::Link>;

inline constexpr net::milliseconds kShort{10'000};  ///< one small file or property
inline constexpr net::milliseconds kDump{20'000};   ///< dumpsys gives up on a service after 10 s by itself

[[nodiscard]] Error not_offered(Term what);
/// Sends one closed command. 126 and 127: the shell has no such program (POSIX shell, 2.8.2).
[[nodiscard]] net::awaitable<Result<link::ShellOutput>> send(LinkPtr link, Command command,
                                                             net::milliseconds deadline);

[[nodiscard]] net::awaitable<Result<void>> run_load(LinkPtr link, int seconds, int workers);
[[nodiscard]] net::awaitable<Result<void>> end_load(LinkPtr link);
[[nodiscard]] net::awaitable<Result<void>> press_wake(LinkPtr link);
[[nodiscard]] net::awaitable<Result<void>> run_motor(LinkPtr link, int ms);
[[nodiscard]] net::awaitable<Result<void>> start_page(LinkPtr link, std::string host, std::uint16_t port,
                                                      std::string token);
}  // namespace hb::phone::detail
