#include "recorder.hpp"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <stdexcept>

namespace hb::test {
namespace {
sockaddr_in local(std::uint16_t port) {
  sockaddr_in a{};
  a.sin_family = AF_INET;
  a.sin_port = htons(port);
  a.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return a;
}
const sockaddr* general(const sockaddr_in& a) { return reinterpret_cast<const sockaddr*>(&a); }

bool send_all(int fd, std::string_view bytes) {
  while (!bytes.empty()) {
    const auto n = ::send(fd, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}
void no_delay(int fd) {
  const int on = 1;
  ::setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
}
}  // namespace

Recorder::Recorder(std::uint16_t target) : target_(target) {
  listener_ = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  auto a = local(0);
  socklen_t n = sizeof a;
  if (listener_ < 0 || ::bind(listener_, general(a), n) != 0 || ::listen(listener_, 8) != 0 ||
      ::getsockname(listener_, reinterpret_cast<sockaddr*>(&a), &n) != 0)
    throw std::runtime_error("no port to listen on");
  port_ = ntohs(a.sin_port);
  accepting_ = std::thread([this] { accept_all(); });
}

Recorder::~Recorder() {
  over_ = true;
  accepting_.join();
  for (auto& r : relays_) r.join();
  ::close(listener_);
}

void Recorder::accept_all() {
  while (!over_) {
    pollfd p{listener_, POLLIN, 0};
    if (::poll(&p, 1, 50) <= 0) continue;
    const int client = ::accept4(listener_, nullptr, nullptr, SOCK_CLOEXEC);
    if (client >= 0) relays_.emplace_back([this, client] { relay(client); });
  }
}

void Recorder::relay(int client) {
  const int phone = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  const auto a = local(target_);
  bool good = phone >= 0 && ::connect(phone, general(a), sizeof a) == 0;
  no_delay(client), no_delay(phone);
  std::vector<char> chunk(64 << 10);
  while (good && !over_) {
    std::array<pollfd, 2> p{{{client, POLLIN, 0}, {phone, POLLIN, 0}}};
    if (::poll(p.data(), 2, 50) < 0 && errno != EINTR) break;
    for (std::size_t i = 0; good && i < 2; ++i) {
      if (p[i].revents == 0) continue;
      const auto n = ::read(p[i].fd, chunk.data(), chunk.size());
      if (n <= 0) {
        good = false;
        break;
      }
      const std::string_view bytes(chunk.data(), static_cast<std::size_t>(n));
      {
        const std::scoped_lock guard(lock_);
        if (i == 0)
          sent_ += bytes;
        else if (bytes.size() < chunk.size() || bytes.find(mark) != std::string_view::npos)
          came_back_ += bytes;
      }
      good = send_all(p[1 - i].fd, bytes);
    }
  }
  ::close(client);
  if (phone >= 0) ::close(phone);
}

std::string Recorder::sent() const {
  const std::scoped_lock guard(lock_);
  return sent_;
}
std::string Recorder::came_back() const {
  const std::scoped_lock guard(lock_);
  return came_back_;
}
}  // namespace hb::test
