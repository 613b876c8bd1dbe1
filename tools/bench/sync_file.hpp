/// A file to and from a phone through the link's `sync:` service, for measuring. No product code moves files.
/// Source: AOSP packages/modules/adb, file_sync_protocol.h and SYNC.TXT, 2024 state.
/// Threads: the link's strand. Errors: the link's, io, bad_format.
#pragma once

#include <memory>
#include <string>

#include "harness/link/link.hpp"

namespace hb::bench {
[[nodiscard]] net::awaitable<Result<void>> send_file(std::shared_ptr<link::Link> link, std::string from,
                                                     std::string to);
/// `to` empty: what comes is looked through and dropped.
[[nodiscard]] net::awaitable<Result<void>> receive_file(std::shared_ptr<link::Link> link, std::string from,
                                                        std::string to);
}  // namespace hb::bench
