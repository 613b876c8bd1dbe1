#include "harness/link/detail/shell.hpp"

namespace hb::link::detail {
namespace {
net::milliseconds left(TimePoint deadline) {
  const auto d = std::chrono::ceil<net::milliseconds>(deadline - std::chrono::steady_clock::now());
  return std::max(d, net::milliseconds(0));
}

Error too_long() {
  return Error{ErrorCode::bad_format, "a command of the phone printed more than any reading needs", "shell",
               "Restart the phone and start the check again."};
}

Error no_exit() {
  return Error{ErrorCode::bad_format, "the phone ended a command without its exit code", "shell",
               "Start the check again."};
}

/// Sorts one packet into `out`; true when it was the exit. `room` is what may still be kept.
Result<bool> sort_packet(const ShellPacket& p, ShellOutput& out, std::size_t max_output) {
  if (p.id == ShellId::exit) {
    if (p.data.size() != 1) return no_exit();
    out.exit_code = p.data[0];
    return true;
  }
  if (p.id != ShellId::out && p.id != ShellId::err) return false;
  if (out.out.size() + out.err.size() + p.data.size() > max_output) return too_long();
  (p.id == ShellId::out ? out.out : out.err).append(as_text(p.data));
  return false;
}

net::awaitable<Result<ShellOutput>> run_v2(Core::Self core, std::string command, TimePoint deadline,
                                           std::size_t max_output) {
  const auto stream = co_await Core::open(core, "shell,v2,raw:" + command, deadline);
  if (!stream) co_return stream.error();
  ShellOutput out;
  ShellReader reader;
  for (;;) {
    const auto bytes = co_await (*stream)->read(left(deadline));
    if (!bytes) co_return bytes.error();
    if (bytes->empty()) co_return no_exit();
    reader.feed(*bytes);
    for (;;) {
      const auto p = reader.next();
      if (!p) co_return p.error();
      if (!*p) break;
      const auto ended = sort_packet(**p, out, max_output);
      if (!ended) co_return ended.error();
      if (*ended) co_return out;
    }
  }
}

/// Takes the shell framing off a stream.
class PtyStream final : public Stream {
 public:
  explicit PtyStream(std::unique_ptr<Stream> raw) : s_(std::make_shared<State>()) {
    s_->raw = std::move(raw);
  }
  net::awaitable<Result<Bytes>> read(net::milliseconds deadline) override {
    return read_from(s_, deadline_in(deadline));
  }
  net::awaitable<Result<void>> write(Bytes data, net::milliseconds deadline) override {
    return s_->raw->write(encode_shell(ShellId::in, data), deadline);
  }
  void close() override { s_->raw->close(); }

 private:
  struct State {
    std::unique_ptr<Stream> raw;
    ShellReader reader;
    bool exited = false;
  };

  static net::awaitable<Result<Bytes>> read_from(std::shared_ptr<State> s, TimePoint deadline) {
    for (;;) {
      Bytes out;
      while (!s->exited) {
        const auto p = s->reader.next();
        if (!p) co_return p.error();
        if (!*p) break;
        s->exited = (*p)->id == ShellId::exit;
        if ((*p)->id == ShellId::out || (*p)->id == ShellId::err)
          out.insert(out.end(), (*p)->data.begin(), (*p)->data.end());
      }
      if (!out.empty() || s->exited) co_return out;
      const auto bytes = co_await s->raw->read(left(deadline));
      if (!bytes) co_return bytes.error();
      if (bytes->empty()) co_return no_exit();
      s->reader.feed(*bytes);
    }
  }

  std::shared_ptr<State> s_;
};
}  // namespace

net::awaitable<Result<std::string>> ask(Core::Self core, std::string service, TimePoint deadline,
                                        std::size_t max) {
  const auto stream = co_await Core::open(core, std::move(service), deadline);
  if (!stream) co_return stream.error();
  std::string all;
  for (;;) {
    const auto bytes = co_await (*stream)->read(left(deadline));
    if (!bytes) co_return bytes.error();
    if (bytes->empty()) co_return all;
    if (all.size() + bytes->size() > max) co_return too_long();
    all.append(as_text(*bytes));
  }
}

net::awaitable<Result<ShellOutput>> run_shell(Core::Self core, std::string command, TimePoint deadline,
                                              std::size_t max_output) {
  if (command.empty())
    co_return Error{ErrorCode::invalid_argument, "an empty command would open a terminal", "shell", ""};
  if (core->agreed().features.contains("shell_v2"))
    co_return co_await run_v2(core, std::move(command), deadline, max_output);
  auto text = co_await ask(core, "shell:" + command, deadline, max_output);
  if (!text) co_return text.error();
  ShellOutput out;
  out.out = std::move(*text);
  out.exit_code = -1;
  co_return out;
}

net::awaitable<Result<std::unique_ptr<Stream>>> open_pty(Core::Self core, std::string command,
                                                         TimePoint deadline) {
  if (!core->agreed().features.contains("shell_v2"))
    co_return Error{ErrorCode::unsupported, "this phone's system is too old for live output", "shell", ""};
  auto stream = co_await Core::open(core, "shell,v2,pty:" + command, deadline);
  if (!stream) co_return stream.error();
  std::unique_ptr<Stream> framed = std::make_unique<PtyStream>(std::move(*stream));
  co_return Result<std::unique_ptr<Stream>>(std::move(framed));
}
}  // namespace hb::link::detail
