#include "device.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "harness/base/text.hpp"
#include "harness/link/usb_list.hpp"

namespace hb::cli {
namespace {
constexpr std::size_t kTail = 4;
constexpr net::milliseconds kPatience{5000};

struct UsbWish {
  std::string port, tail, serial;  ///< at most one is given
};

bool is_port(std::string_view s) {
  return s.find('-') != std::string_view::npos &&
         s.find_first_not_of("0123456789-.") == std::string_view::npos;
}

std::string upper(std::string s) {
  for (char& c : s)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return s;
}

UsbWish wish_of(const std::string& after_colon) {
  if (is_port(after_colon)) return {after_colon, "", ""};
  if (after_colon.size() <= kTail) return {"", upper(after_colon), ""};
  return {"", "", after_colon};
}

std::string lines_of(const std::vector<link::UsbPhone>& phones) {
  std::string out;
  for (const auto& p : phones)
    out += fmt::format("\n  --device usb:{}{}", p.place.port, p.tail.empty() ? "" : "   ends in " + p.tail);
  return out;
}

net::awaitable<Result<std::unique_ptr<link::Transport>>> dial_usb(std::shared_ptr<UsbWish> wish) {
  if (!wish->serial.empty()) co_return co_await link::connect_usb(wish->serial, kPatience);
  const auto all = link::list_usb();
  if (all.empty()) co_return co_await link::connect_usb(std::nullopt, kPatience);
  auto fit = all;
  std::erase_if(fit, [&](const link::UsbPhone& p) {
    return (!wish->port.empty() && p.place.port != wish->port) ||
           (!wish->tail.empty() && p.tail != wish->tail);
  });
  if (fit.empty())
    co_return Error{ErrorCode::not_found, "that phone is not plugged in", "--device",
                    "These are:" + lines_of(all)};
  if (fit.size() > 1)
    co_return Error{ErrorCode::invalid_argument, fmt::format("{} phones are plugged in", fit.size()),
                    "--device", "Say which one:" + lines_of(fit)};
  // After a lost link others may have been plugged in, and this one into another port.
  if (wish->port.empty()) wish->tail = fit.front().tail;
  co_return co_await link::connect_usb_at(fit.front().place, kPatience);
}
}  // namespace

Result<HostPort> parse_tcp(const std::string& text, const std::string& option) {
  const Error bad{ErrorCode::invalid_argument, "this is no address", option,
                  "Expected tcp:HOST:PORT, for example tcp:192.0.2.7:5555."};
  if (text.rfind("tcp:", 0) != 0) return bad;
  const auto colon = text.rfind(':');
  const auto port = colon > 4 ? to_int(std::string_view(text).substr(colon + 1)) : std::nullopt;
  if (!port || *port < 1 || *port > 65535) return bad;
  return HostPort{text.substr(4, colon - 4), static_cast<std::uint16_t>(*port)};
}

Result<run::Setup::Connect> dialler(const std::string& device) {
  if (device.rfind("tcp:", 0) == 0) {
    auto hp = parse_tcp(device, "--device");
    if (!hp) return hp.error();
    return run::Setup::Connect(
        [hp = *hp] { return link::connect_tcp(hp.host, hp.port, net::milliseconds(5000)); });
  }
  if (device == "usb" || (device.rfind("usb:", 0) == 0 && device.size() > 4)) {
    auto wish = std::make_shared<UsbWish>(device == "usb" ? UsbWish{} : wish_of(device.substr(4)));
    return run::Setup::Connect([wish] { return dial_usb(wish); });
  }
  return Error{ErrorCode::invalid_argument, "this is no device", "--device",
               "Expected tcp:HOST:PORT, usb, or usb:PORT as `handback phones` shows it."};
}

std::string shown_device(const std::string& device) {
  if (device.rfind("usb:", 0) != 0 || wish_of(device.substr(4)).serial.empty()) return device;
  return "usb:" + upper(device.substr(device.size() - kTail));
}
}  // namespace hb::cli
