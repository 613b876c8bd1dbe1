#include "tests/link/usb/device_end.hpp"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <stdexcept>

namespace hb::test {
DeviceSpec phone_spec() {
  DeviceSpec s;
  s.address = 7;
  s.port = "1-3";
  s.interfaces = {
      {0x06, 0x01, 0x01, {0x81, 0x01}}, {0xff, 0x42, 0x03, {0x82, 0x03}}, {0xff, 0x42, 0x01, {0x02, 0x83}}};
  return s;
}

// USB 2.0 sections 9.6.5, 9.6.6
Bytes interface_descriptors(const DeviceSpec& spec, std::size_t packet, ByteView companion) {
  Bytes out;
  for (std::size_t i = 0; i < spec.interfaces.size(); ++i) {
    const auto& f = spec.interfaces[i];
    const auto count = static_cast<std::uint8_t>(f.endpoints.size());
    for (const std::uint8_t b : {std::uint8_t{9}, std::uint8_t{4}, static_cast<std::uint8_t>(i),
                                 std::uint8_t{0}, count, f.type, f.sub, f.protocol, std::uint8_t{0}})
      out.push_back(b);
    for (const auto e : f.endpoints) {
      for (const std::uint8_t b :
           {std::uint8_t{7}, std::uint8_t{5}, e, std::uint8_t{2}, static_cast<std::uint8_t>(packet & 0xff),
            static_cast<std::uint8_t>(packet >> 8), std::uint8_t{0}})
        out.push_back(b);
      out.insert(out.end(), companion.begin(), companion.end());
    }
  }
  return out;
}

DaemonSocket::DaemonSocket(std::uint16_t port) : socket_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
  sockaddr_in to{};
  to.sin_family = AF_INET;
  to.sin_port = htons(port);
  to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  const int on = 1;
  ::setsockopt(socket_, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
  sockaddr address{};
  static_assert(sizeof address == sizeof to);
  std::copy_n(reinterpret_cast<const char*>(&to), sizeof to, reinterpret_cast<char*>(&address));
  if (::connect(socket_, &address, sizeof address) == 0) return;
  ::close(socket_);
  throw std::runtime_error("no daemon behind the device");
}

DaemonSocket::~DaemonSocket() { ::close(socket_); }

void DaemonSocket::end() const { ::shutdown(socket_, SHUT_RDWR); }

bool DaemonSocket::send_all(ByteView bytes) const {
  while (!bytes.empty()) {
    const auto n = ::send(socket_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (n <= 0) return false;
    bytes = bytes.subspan(static_cast<std::size_t>(n));
  }
  return true;
}

bool DaemonSocket::receive_all(std::span<std::uint8_t> into) const {
  while (!into.empty()) {
    const auto n = ::recv(socket_, into.data(), into.size(), 0);
    if (n <= 0) return false;
    into = into.subspan(static_cast<std::size_t>(n));
  }
  return true;
}

void DeviceCounters::take(ByteView t) {
  bytes_out += t.size();
  if (left > 0 || t.empty()) {
    if (from_host.empty())
      complaint = "an empty transfer at the start";
    else
      from_host.back().transfers.push_back(t.size());
    if (t.size() > left) complaint = "more payload than announced";
    left -= std::min(left, t.size());
  } else if (t.size() != kHeader) {
    complaint = fmt::format("a header of {} bytes", t.size());
  } else {
    left = u32_at(t, 12);
    from_host.push_back(FromHost{left, {}});
  }
}

std::uint32_t u32_at(ByteView b, std::size_t at) {
  std::uint32_t v = 0;
  for (std::size_t i = 0; i < 4; ++i) v |= std::uint32_t{b[at + i]} << (8 * i);
  return v;
}
}  // namespace hb::test
