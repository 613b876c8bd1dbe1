#include <algorithm>

#include "connection.hpp"

namespace hb::standin {
namespace {
/// A pipe or terminal hands over at most so much at once.
constexpr std::size_t kPiece = 32u << 10;

class StreamOutput final : public Output {
 public:
  StreamOutput(std::weak_ptr<DeviceStream> stream, bool v2, bool pty)
      : stream_(std::move(stream)), v2_(v2), pty_(pty) {}

  void out(std::string_view text) override { print(link::ShellId::out, text); }
  /// On a terminal, and without the shell protocol, both are one stream.
  void err(std::string_view text) override { print(pty_ ? link::ShellId::out : link::ShellId::err, text); }
  void exit(int code) override {
    const auto s = stream_.lock();
    if (!s || interrupted_) return;
    const std::uint8_t status = static_cast<std::uint8_t>(code & 0xff);
    if (v2_) s->send(link::encode_shell(link::ShellId::exit, ByteView(&status, 1)));
    s->finish();
  }
  bool gone() const override {
    const auto s = stream_.lock();
    return !s || s->gone() || interrupted_;
  }
  /// SIGINT ends whatever runs: 128 + 2 (POSIX shell, 2.8.2).
  void interrupt() {
    if (interrupted_) return;
    out("^C");  // the terminal's echo
    exit(130);
    interrupted_ = true;
  }

 private:
  void print(link::ShellId id, std::string_view text) {
    const auto s = stream_.lock();
    if (!s) return;
    std::string with_cr;
    if (pty_) {  // a terminal ends lines with CR LF
      for (const char c : text) {
        if (c == '\n') with_cr += '\r';
        with_cr += c;
      }
      text = with_cr;
    }
    for (; !text.empty(); text.remove_prefix(std::min(kPiece, text.size()))) {
      const auto piece = text.substr(0, kPiece);
      if (v2_)
        s->send(link::encode_shell(id, as_bytes(piece)));
      else
        s->send(piece);
    }
  }

  std::weak_ptr<DeviceStream> stream_;
  bool v2_, pty_, interrupted_ = false;
};

/// No command of the stand-in reads its input: it is taken and dropped. A terminal watches it for control-C.
class ShellService final : public Service {
 public:
  ShellService(std::weak_ptr<DeviceStream> stream, std::weak_ptr<StreamOutput> output, bool v2, bool pty)
      : stream_(std::move(stream)), output_(std::move(output)), v2_(v2), pty_(pty) {}
  void data(Bytes bytes) override {
    if (const auto s = stream_.lock()) s->consumed(bytes.size());
    if (!pty_) return;
    if (!v2_) return typed(bytes);
    reader_.feed(bytes);
    for (auto p = reader_.next(); p && *p; p = reader_.next())
      if ((*p)->id == link::ShellId::in) typed((*p)->data);
  }

 private:
  void typed(ByteView bytes) {
    const auto o = output_.lock();
    if (o && std::find(bytes.begin(), bytes.end(), std::uint8_t{3}) != bytes.end()) o->interrupt();
  }
  std::weak_ptr<DeviceStream> stream_;
  std::weak_ptr<StreamOutput> output_;
  link::ShellReader reader_;
  bool v2_, pty_;
};
}  // namespace

void serve_shell(Services& services, const std::shared_ptr<DeviceStream>& stream, std::string command,
                 bool v2, bool pty) {
  auto output = std::make_shared<StreamOutput>(stream, v2, pty);
  stream->serve(std::make_shared<ShellService>(stream, output, v2, pty));
  services.shell(std::move(command), pty, std::move(output));
}
}  // namespace hb::standin
