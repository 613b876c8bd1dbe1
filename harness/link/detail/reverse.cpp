#include "harness/link/detail/reverse.hpp"

#include <fmt/format.h>

#include "harness/base/text.hpp"
#include "harness/link/detail/shell.hpp"

namespace hb::link::detail {
namespace {
constexpr std::size_t kMaxAnswer = 4096;

Error strange_answer() {
  return Error{ErrorCode::bad_format, "the phone's answer about the port is not understood",
               "reverse forward", "Unplug the cable and plug it in again."};
}

/// Forgets the forward again unless it came to stand.
class Attempt {
 public:
  Attempt(Core::Self core, std::uint16_t host_port) : core_(std::move(core)), host_port_(host_port) {}
  Attempt(const Attempt&) = delete;
  Attempt& operator=(const Attempt&) = delete;
  ~Attempt() {
    if (!stands_) core_->drop_forward(host_port_);
  }
  void keep() { stands_ = true; }

 private:
  Core::Self core_;
  std::uint16_t host_port_;
  bool stands_ = false;
};
}  // namespace

Result<std::uint16_t> parse_forward_answer(std::string_view text, std::uint16_t asked) {
  if (text.starts_with("FAIL"))
    return Error{ErrorCode::refused, "the phone did not give the port", "reverse forward",
                 "Restart the phone if this stays so: another program there may hold the port."};
  if (!text.starts_with("OKAY")) return strange_answer();
  if (asked != 0) return asked;
  text.remove_prefix(4);
  if (text.size() < 5) return strange_answer();
  const auto length = to_int(text.substr(0, 4), 16), port = to_int(text.substr(4));
  if (!length || *length != static_cast<long long>(text.size()) - 4 || !port || *port < 1 || *port > 65535)
    return strange_answer();
  return static_cast<std::uint16_t>(*port);
}

net::awaitable<Result<std::uint16_t>> forward(Core::Self core, std::shared_ptr<Forwards> standing,
                                              std::uint16_t device_port, std::uint16_t host_port,
                                              Link::Acceptor acceptor, TimePoint deadline) {
  if (host_port == 0 || !acceptor || !core->add_forward(host_port, std::move(acceptor)))
    co_return Error{ErrorCode::invalid_argument, "this port of the bench is 0 or forwarded already",
                    "reverse forward", "Remove the old forward first."};
  Attempt attempt(core, host_port);
  // The phone may connect before its answer is read: the acceptor stands already.
  const auto answer = co_await ask(core, fmt::format("reverse:forward:tcp:{};tcp:{}", device_port, host_port),
                                   deadline, kMaxAnswer);
  if (!answer) co_return answer.error();
  const auto port = parse_forward_answer(*answer, device_port);
  if (!port) co_return port.error();
  if (const auto before = standing->find(*port); before != standing->end())
    core->drop_forward(before->second);  // the phone's port now leads elsewhere
  standing->insert_or_assign(*port, host_port);
  attempt.keep();
  co_return *port;
}

net::awaitable<Result<void>> unforward(Core::Self core, std::shared_ptr<Forwards> standing,
                                       std::uint16_t device_port, TimePoint deadline) {
  const auto at = standing->find(device_port);
  if (at == standing->end())
    co_return Error{ErrorCode::not_found, "no forward stands on this port of the phone", "reverse forward",
                    ""};
  core->drop_forward(at->second);  // from now on the phone is refused, whatever it answers
  standing->erase(at);
  const auto answer =
      co_await ask(core, fmt::format("reverse:killforward:tcp:{}", device_port), deadline, kMaxAnswer);
  if (!answer) co_return answer.error();
  if (!answer->starts_with("OKAY"))
    co_return Error{ErrorCode::refused, "the phone did not remove the port", "reverse forward",
                    "Unplug the cable: the phone drops its ports with the link."};
  co_return Result<void>{};
}
}  // namespace hb::link::detail
