// Sending closed commands, and those that act on the phone.
#include <algorithm>

#include "detail/calls.hpp"
#include "detail/scan.hpp"
#include "harness/base/text.hpp"
#include "harness/link/packet.hpp"

namespace hb::phone::detail {
namespace {
using Wall = std::chrono::steady_clock;
constexpr std::size_t kLargestDump = 4u << 20;
}  // namespace

Error not_offered(Term what) {
  return {ErrorCode::unsupported, "this phone does not offer " + what.str(), "phone command",
          "the check that needs it is not tested on this phone"};
}

net::awaitable<Result<link::ShellOutput>> send(LinkPtr link, Command command, net::milliseconds deadline) {
  auto r = co_await link->shell(command.text(), deadline, kLargestDump);
  if (!r) co_return std::move(r).error();
  if (r->exit_code == 126 || r->exit_code == 127) co_return not_offered("a program that the reading needs");
  co_return std::move(r);
}

/// The busy loops inherit the shell's output, so a device may keep the stream open until they end: the word
/// that they started is awaited, then the stream is left.
net::awaitable<Result<void>> run_load(LinkPtr link, int seconds, int workers) {
  auto command = Command::start_load(seconds, workers);
  if (!command) co_return std::move(command).error();
  const bool framed = link->has_feature("shell_v2");
  auto stream = co_await link->open_stream((framed ? "shell,v2,raw:" : "shell:") + command->text(), kShort);
  if (!stream) co_return std::move(stream).error();
  link::ShellReader reader;
  std::string out;
  const auto until = Wall::now() + kShort;
  while (out.size() < 4096) {
    const auto left = std::chrono::ceil<net::milliseconds>(until - Wall::now());
    auto bytes = co_await (*stream)->read(std::max(left, net::milliseconds(1)));
    if (!bytes) co_return std::move(bytes).error();
    if (bytes->empty()) break;
    if (!framed) out.append(as_text(*bytes));
    if (framed) reader.feed(*bytes);
    for (bool more = framed; more;) {
      auto packet = reader.next();
      if (!packet) co_return std::move(packet).error();
      more = packet->has_value();
      if (more && (*packet)->id == link::ShellId::out) out.append(as_text((*packet)->data));
    }
    if (contains(out, "started")) break;
  }
  (*stream)->close();
  if (!contains(out, "started")) co_return not_offered("a load on the battery");
  co_return Result<void>{};
}

/// The pattern also fits the shell that carries it, which may so be ended before it answers: any exit code is
/// well, the loops end by themselves at the latest.
net::awaitable<Result<void>> end_load(LinkPtr link) {
  auto r = co_await send(std::move(link), Command::plain(CommandId::stop_load), kShort);
  if (!r) co_return std::move(r).error();
  if (contains(r->err, "not found") || contains(r->out, "not found"))
    co_return not_offered("an early end of the load; it ends by itself");
  co_return Result<void>{};
}

net::awaitable<Result<void>> press_wake(LinkPtr link) {
  auto r = co_await send(std::move(link), Command::plain(CommandId::wake), kShort);
  if (!r) co_return std::move(r).error();
  if (r->exit_code > 0) co_return not_offered("switching its screen on");
  co_return Result<void>{};
}

net::awaitable<Result<void>> run_motor(LinkPtr link, int ms) {
  auto command = Command::vibrate(ms);
  if (!command) co_return std::move(command).error();
  auto r = co_await send(std::move(link), *std::move(command), kShort);
  if (!r) co_return std::move(r).error();
  if (r->exit_code > 0 || contains(r->out, "Error") || contains(r->out, "Unknown") ||
      contains(r->out, "Can't find service") || contains(r->err, "Can't find service"))
    co_return not_offered("a command that starts its vibration motor");
  co_return Result<void>{};
}

net::awaitable<Result<void>> start_page(LinkPtr link, std::string host, std::uint16_t port,
                                        std::string token) {
  auto command = Command::open_page(host, port, token);
  if (!command) co_return std::move(command).error();
  auto r = co_await send(std::move(link), *std::move(command), kDump);
  if (!r) co_return std::move(r).error();
  bool starting = false, error = r->exit_code > 0;
  for (const auto* text : {&r->out, &r->err}) {
    LineCursor lines(*text);
    while (const auto line = lines.next()) {
      starting = starting || line->starts_with("Starting: Intent");
      error = error || line->starts_with("Error") || contains(*line, "Exception");
    }
  }
  if (error || !starting) co_return not_offered("a browser that may open the test page");
  co_return Result<void>{};
}
}  // namespace hb::phone::detail
