// Private to harness/cli: --device, and how its phone is dialled again after a lost link.
#pragma once

#include <string>

#include "harness/run/run.hpp"

namespace hb::cli {

/// "tcp:HOST:PORT" -> host and port. invalid_argument saying the form.
struct HostPort {
  std::string host;
  std::uint16_t port = 0;
};
[[nodiscard]] Result<HostPort> parse_tcp(const std::string& text, const std::string& option);

/// tcp:HOST:PORT; usb: the only phone on USB; usb:PORT, as the kernel names it (3-1.2); usb:TAIL, the end of
/// its serial number. When more than one phone fits, dialling gives invalid_argument with all of them by port
/// and tail. Errors: invalid_argument for another form.
[[nodiscard]] Result<run::Setup::Connect> dialler(const std::string& device);
/// As it may be shown: of a serial number the last four characters.
[[nodiscard]] std::string shown_device(const std::string& device);
}  // namespace hb::cli
