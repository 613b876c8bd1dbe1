/// Reverse forwards: what to ask the phone for, and what it answers.
/// Source: AOSP packages/modules/adb, adb.cpp handle_forward_request and daemon/services.cpp, 2024 state.
/// Threads: the link's strand; parse_forward_answer is pure.
#pragma once

#include <map>

#include "harness/link/detail/core.hpp"

namespace hb::link::detail {
/// Answer to reverse:forward. `asked` is returned when it is not 0. refused: FAIL; bad_format: anything else.
[[nodiscard]] Result<std::uint16_t> parse_forward_answer(std::string_view text, std::uint16_t asked);

/// device port -> host port of the forwards that stand.
using Forwards = std::map<std::uint16_t, std::uint16_t>;
[[nodiscard]] net::awaitable<Result<std::uint16_t>> forward(Core::Self core,
                                                            std::shared_ptr<Forwards> standing,
                                                            std::uint16_t device_port,
                                                            std::uint16_t host_port, Link::Acceptor acceptor,
                                                            TimePoint deadline);
[[nodiscard]] net::awaitable<Result<void>> unforward(Core::Self core, std::shared_ptr<Forwards> standing,
                                                     std::uint16_t device_port, TimePoint deadline);
}  // namespace hb::link::detail
