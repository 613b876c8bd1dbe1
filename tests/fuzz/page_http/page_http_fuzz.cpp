// Requests to the phone page's server, on one connection, under its real paths ({T} stands for the token).
// First byte: low bits choose what the harness wants at the time (nothing, a count, pictures, the end; with
// the third bit pictures at two focus settings), the rest how the bytes are cut. Every reply must be whole,
// and the server must end when the stream does.
#include <cstdlib>

#include "detail/session.hpp"

namespace {
using namespace hb;
using namespace hb::page;
using namespace std::chrono_literals;

void require(bool holds) {
  if (!holds) std::abort();
}
constexpr std::string_view kToken = "00112233445566778899aabbccddeeff";

class Browser final : public link::Stream {
 public:
  Browser(std::string text, std::size_t cut, std::string& replies)
      : text_(std::move(text)), cut_(cut), replies_(replies) {}
  net::awaitable<Result<Bytes>> read(net::milliseconds) override {
    co_await net::asio::post(co_await net::asio::this_coro::executor, net::asio::use_awaitable);
    const auto piece = text_.substr(at_, closed_ ? 0 : cut_);
    at_ += piece.size();
    co_return Bytes(piece.begin(), piece.end());
  }
  net::awaitable<Result<void>> write(Bytes data, net::milliseconds) override {
    if (closed_) co_return Error{ErrorCode::link_lost, "gone", "", ""};
    replies_.append(data.begin(), data.end());
    co_return Result<void>{};
  }
  void close() override { closed_ = true; }

 private:
  std::string text_;
  std::size_t cut_, at_ = 0;
  std::string& replies_;
  bool closed_ = false;
};

void check_replies(std::string_view all) {
  while (!all.empty()) {
    require(all.starts_with("HTTP/1.1 "));
    const auto head = all.find("\r\n\r\n");
    require(head != std::string_view::npos);
    const auto length = all.substr(0, head).find("Content-Length: ");
    const auto n = length == std::string_view::npos
                       ? 0
                       : std::strtoul(std::string(all.substr(length + 16, 12)).c_str(), nullptr, 10);
    require(n <= all.size() - head - 4);
    all.remove_prefix(head + 4 + n);
  }
}
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  for (auto at = text.find("{T}"); at != std::string::npos; at = text.find("{T}", at + kToken.size()))
    text.replace(at, 3, kToken);
  const auto session = std::make_shared<Session>(std::string(kToken), 1ms);
  session->set_place("h1", 46080);
  Command want;
  if ((data[0] & 3u) == 2) want.what = Command::Do::frames, want.width = 16, want.height = 16, want.count = 2;
  const bool focus = (data[0] & 7u) == 6;
  if (focus) want.focus_steps = 2;
  const auto sink = [focus](int i, const checks::Frame& f) {
    require(focus ? f.focus_m >= 0.01 && f.focus_m <= 1000 : f.focus_m == 0);
    require(i >= 0 && i < 2 && f.rgb.size() == 3u * static_cast<std::size_t>(f.width * f.height));
  };
  if ((data[0] & 3u) == 1 || (data[0] & 3u) == 2) session->begin(want, sink);
  if ((data[0] & 3u) == 3) session->stop();
  PageOptions o;
  o.poll = 1ms;
  std::string replies;
  bool ended = false;
  net::io_context io(1);
  net::co_spawn(
      io, serve(session, std::make_unique<Browser>(std::move(text), 1u + (data[0] >> 2u) * 7u, replies), o),
      [&](std::exception_ptr e) {
        if (e) std::abort();
        ended = true;
      });
  io.run();
  require(ended);
  check_replies(replies);
  if (session->answered()) static_cast<void>(session->outcome());
  return 0;
}
