// What a phone says after a greeting, through the whole link. First byte: low bits choose the call (a
// command, a live one, a stream, a forward), bit 0x08 whether the rest is raw bytes on the wire or the
// content of the stream that the bench opened, the high bits how it is cut. Every call must end, and nothing
// may stay.
#include <unistd.h>

#include <cstdlib>
#include <deque>
#include <filesystem>

#include "harness/link/link.hpp"
#include "harness/link/packet.hpp"

namespace {
using namespace hb;
using namespace hb::link;
using namespace std::chrono_literals;

void require(bool holds) {
  if (!holds) std::abort();
}

const BenchRsaKey& key() {
  static const BenchRsaKey k = [] {
    auto name = (std::filesystem::temp_directory_path() / "handback-fuzz-XXXXXX").string();
    require(::mkdtemp(name.data()) != nullptr);
    auto made = BenchRsaKey::load_or_make(std::filesystem::path(name) / "key");
    std::filesystem::remove_all(name);
    return made.value();
  }();
  return k;
}

void put(Bytes& to, std::uint32_t command, std::uint32_t arg0, std::uint32_t arg1, ByteView payload) {
  Packet p;
  p.command = command, p.arg0 = arg0, p.arg1 = arg1;
  p.payload.assign(payload.begin(), payload.end());
  const auto header = encode_header(p, kVersionChecksum);
  to.insert(to.end(), header.begin(), header.end());
  to.insert(to.end(), payload.begin(), payload.end());
}

/// A phone that says what it was given, cut in pieces, and is then gone.
class Script final : public Transport {
 public:
  Script(Bytes text, std::size_t cut) : text_(std::move(text)), cut_(cut) {}
  net::awaitable<Result<std::size_t>> read(std::span<std::uint8_t> into) override {
    const auto n = std::min({into.size(), cut_, text_.size() - at_});
    if (n == 0 || closed_) co_return Error{ErrorCode::link_lost, "gone", "", ""};
    std::copy_n(text_.begin() + static_cast<std::ptrdiff_t>(at_), n, into.begin());
    at_ += n;
    // Lets the bench's side run between two pieces.
    co_await net::asio::post(co_await net::asio::this_coro::executor, net::asio::use_awaitable);
    co_return n;
  }
  net::awaitable<Result<void>> write(Bytes, Bytes) override {
    if (closed_) co_return Error{ErrorCode::link_lost, "gone", "", ""};
    co_return Result<void>{};
  }
  void close() noexcept override { closed_ = true; }
  std::string_view kind() const noexcept override { return "tcp"; }

 private:
  Bytes text_;
  std::size_t cut_, at_ = 0;
  bool closed_ = false;
};

net::awaitable<void> drain(std::unique_ptr<Stream> s) {
  for (;;) {
    const auto piece = co_await s->read(1h);
    if (!piece || piece->empty()) co_return;
  }
}

net::awaitable<void> talk(unsigned what, std::unique_ptr<Transport> phone, bool& ended) {
  LinkOptions options;
  options.max_unread_per_stream = 1u << 16;
  auto link = co_await Link::open(std::move(phone), key(), options);
  if (link && what == 0) {
    const auto out = co_await (*link)->shell("x", 1h, 1u << 12);
    require(!out || (out->out.size() <= 1u << 12 && out->err.size() <= 1u << 12));
  } else if (link && what == 1) {
    auto s = co_await (*link)->shell_pty("x", 1h);
    if (s) co_await drain(std::move(*s));
  } else if (link && what == 2) {
    auto s = co_await (*link)->open_stream("x:", 1h);
    if (s) co_await drain(std::move(*s));
  } else if (link) {
    static_cast<void>(co_await (*link)->reverse(0, 5, drain, 1h));
    static_cast<void>(co_await (*link)->open_stream("x:", 1h));
  }
  ended = true;
}
}  // namespace

/// Before the first input: making a key takes long on a busy machine.
extern "C" int LLVMFuzzerInitialize(int*, char***);
extern "C" int LLVMFuzzerInitialize(int*, char***) {
  static_cast<void>(key());
  return 0;
}
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const unsigned what = data[0] & 3u;
  const std::size_t cut = 1u + (data[0] >> 4u) * 37u;
  const ByteView bytes(data + 1, size - 1);
  constexpr std::string_view kBanner = "device::features=shell_v2,cmd,delayed_ack";
  Bytes wire;
  put(wire, kCnxn, kVersionChecksum, 1u << 16,
      as_bytes((data[0] & 4u) != 0 ? kBanner : kBanner.substr(0, 30)));
  if ((data[0] & 8u) != 0) {
    wire.insert(wire.end(), bytes.begin(), bytes.end());
  } else {  // stream 1 of the bench is 9 of the phone
    const Bytes credit = {0, 0, 1, 0};
    put(wire, kOkay, 9, 1, (data[0] & 4u) != 0 ? ByteView(credit) : ByteView());
    for (std::size_t at = 0; at < bytes.size(); at += cut)
      put(wire, kWrte, 9, 1, bytes.subspan(at, std::min(cut, bytes.size() - at)));
    put(wire, kClse, 9, 1, {});
  }
  net::io_context io(1);
  bool ended = false;
  net::co_spawn(io, talk(what, std::make_unique<Script>(std::move(wire), cut), ended),
                [](std::exception_ptr e) {
                  if (e) std::abort();
                });
  io.run();
  require(ended);
  return 0;
}
