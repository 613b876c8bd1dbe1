#include "harness/link/detail/usb_transport.hpp"

#include <mutex>

#include "harness/link/detail/core.hpp"
#include "harness/link/detail/signal.hpp"
#include "harness/link/packet.hpp"

namespace hb::link::detail {
namespace {
/// A multiple of every allowed packet size (64, 512, 1024), small enough for any kernel's transfer memory.
constexpr std::size_t kPiece = 64u << 10;
constexpr std::uint32_t kMaxAnnounced = 16u << 20;
constexpr int kMaxStalls = 2;

std::uint32_t u32_at(const Bytes& b, std::size_t at) {
  std::uint32_t v = 0;
  for (std::size_t i = 0; i < 4; ++i) v |= std::uint32_t{b[at + i]} << (8 * i);
  return v;
}

Error misframed(std::string what) {
  return Error{ErrorCode::bad_format, std::move(what), "usb", "Unplug the cable and plug it in again."};
}

bool opens_a_link(std::uint32_t command) { return command == kCnxn || command == kAuth || command == kStls; }
}  // namespace

std::size_t UsbFramer::next_size() const {
  const auto wanted = left_ == 0 ? kHeaderSize : std::min(left_, kPiece);
  return (wanted + max_packet_ - 1) / max_packet_ * max_packet_;
}

Result<Bytes> UsbFramer::take(Bytes chunk) {
  if (chunk.empty()) return chunk;
  if (left_ > 0) {
    if (chunk.size() > left_) {
      left_ = 0;
      if (greeted_) return misframed("the phone sent more than it announced");
      return Bytes{};
    }
    left_ -= chunk.size();
    return dropping_ ? Bytes{} : std::move(chunk);
  }
  const bool header = chunk.size() == kHeaderSize && u32_at(chunk, 20) == (u32_at(chunk, 0) ^ 0xffffffffu) &&
                      u32_at(chunk, 12) <= kMaxAnnounced;
  if (!header) {
    if (greeted_) return misframed("the phone sent a damaged packet header");
    return Bytes{};
  }
  left_ = u32_at(chunk, 12);
  greeted_ = greeted_ || opens_a_link(u32_at(chunk, 0));
  dropping_ = !greeted_;
  return dropping_ ? Bytes{} : std::move(chunk);
}

std::vector<Bytes> usb_transfers(Bytes header, Bytes payload, std::size_t max_packet) {
  std::vector<Bytes> out;
  out.push_back(std::move(header));
  const bool whole_packets = !payload.empty() && payload.size() % max_packet == 0;
  if (payload.size() <= kPiece) {
    if (!payload.empty()) out.push_back(std::move(payload));
  } else {
    for (std::size_t at = 0; at < payload.size(); at += kPiece) {
      const auto piece = ByteView(payload).subspan(at, std::min(kPiece, payload.size() - at));
      out.emplace_back(piece.begin(), piece.end());
    }
  }
  if (whole_packets) out.emplace_back();
  return out;
}

namespace {
/// Lets completions through to the strand as long as the transport lives.
struct Gate {
  std::mutex mutex;
  bool open = true;
};

struct State : std::enable_shared_from_this<State> {
  State(const net::asio::any_io_executor& ex, std::unique_ptr<UsbPipe> p)
      : executor(ex),
        framer(p->max_packet(UsbPipe::Way::in)),
        read_ended(ex),
        write_ended(ex),
        pipe(std::move(p)) {}
  State(const State&) = delete;
  State& operator=(const State&) = delete;
  ~State() {
    const std::lock_guard lock(gate->mutex);
    gate->open = false;
  }

  /// The event thread holds only weak references, so that it never runs the destructor that waits for it.
  UsbPipe::Callback to_strand(std::optional<UsbDone> State::*slot, Signal State::*ended) {
    return [g = gate, weak = weak_from_this(), ex = executor, slot, ended](UsbDone d) {
      const std::lock_guard lock(g->mutex);
      if (!g->open) return;
      net::asio::post(ex, [weak, slot, ended, done = std::move(d)]() mutable {
        const auto s = weak.lock();
        if (!s) return;
        (*s).*slot = std::move(done);
        ((*s).*ended).notify();
      });
    };
  }

  net::asio::any_io_executor executor;
  std::shared_ptr<Gate> gate = std::make_shared<Gate>();
  UsbFramer framer;
  Bytes inbox;
  std::size_t inbox_taken = 0;
  bool read_running = false, closed = false;
  std::optional<UsbDone> read_done, write_done;
  Signal read_ended, write_ended;
  std::unique_ptr<UsbPipe> pipe;  ///< last: goes first; none once closed
};

Error ended(UsbEnd end) {
  if (end == UsbEnd::gone) return lost("the phone was unplugged");
  return lost("the USB connection to the phone failed");
}

net::awaitable<Result<UsbDone>> finish_read(std::shared_ptr<State> s) {
  if (!s->read_running && !s->closed) {
    s->read_running = true;
    s->pipe->read(s->framer.next_size(), s->to_strand(&State::read_done, &State::read_ended));
  }
  while (!s->read_done && !s->closed) {
    const auto waited = co_await s->read_ended.wait_until(deadline_in(std::chrono::hours(24)));
    if (!waited) co_return waited.error();  // the transfer goes on; the next read takes its result
  }
  if (s->closed) co_return lost("the connection was closed");
  s->read_running = false;
  UsbDone d = std::move(*s->read_done);
  s->read_done.reset();
  co_return d;
}

net::awaitable<Result<std::size_t>> read_from(std::shared_ptr<State> s, std::span<std::uint8_t> into) {
  for (int stalls = 0; s->inbox_taken == s->inbox.size();) {
    auto d = co_await finish_read(s);
    if (!d) co_return d.error();
    const bool cleared =
        d->end == UsbEnd::stalled && ++stalls <= kMaxStalls && s->pipe->clear_stall(UsbPipe::Way::in);
    if (d->end != UsbEnd::done && !cleared) co_return ended(d->end);
    auto bytes = s->framer.take(std::move(d->data));
    if (!bytes) co_return bytes.error();
    s->inbox = std::move(*bytes);
    s->inbox_taken = 0;
  }
  const auto n = std::min(into.size(), s->inbox.size() - s->inbox_taken);
  std::copy_n(s->inbox.begin() + static_cast<std::ptrdiff_t>(s->inbox_taken), n, into.begin());
  s->inbox_taken += n;
  co_return n;
}

net::awaitable<Result<void>> transfer(std::shared_ptr<State> s, Bytes data) {
  for (int stalls = 0;;) {
    if (s->closed) co_return lost("the connection was closed");
    s->write_done.reset();
    s->pipe->write(std::move(data), s->to_strand(&State::write_done, &State::write_ended));
    while (!s->write_done && !s->closed) {
      const auto waited = co_await s->write_ended.wait_until(deadline_in(std::chrono::hours(24)));
      if (!waited) co_return waited.error();
    }
    if (s->closed) co_return lost("the connection was closed");
    UsbDone d = std::move(*s->write_done);
    // Whole packets were taken or none: half a header would put the phone out of step.
    const auto moved = std::min(d.moved, d.data.size());
    const bool can_go_on = d.end == UsbEnd::stalled && moved % s->pipe->max_packet(UsbPipe::Way::out) == 0;
    if (can_go_on && ++stalls <= kMaxStalls && s->pipe->clear_stall(UsbPipe::Way::out)) {
      data.assign(d.data.begin() + static_cast<std::ptrdiff_t>(moved), d.data.end());
      continue;
    }
    if (d.end != UsbEnd::done || d.moved != d.data.size()) co_return ended(d.end);
    co_return Result<void>{};
  }
}

net::awaitable<Result<void>> write_to(std::shared_ptr<State> s, Bytes header, Bytes payload) {
  if (s->closed) co_return lost("the connection was closed");
  auto pieces = usb_transfers(std::move(header), std::move(payload), s->pipe->max_packet(UsbPipe::Way::out));
  for (auto& piece : pieces) {
    const auto written = co_await transfer(s, std::move(piece));
    if (!written) co_return written.error();
  }
  co_return Result<void>{};
}

class UsbTransport final : public Transport {
 public:
  explicit UsbTransport(std::shared_ptr<State> s) : s_(std::move(s)) {}
  UsbTransport(const UsbTransport&) = delete;
  UsbTransport& operator=(const UsbTransport&) = delete;
  ~UsbTransport() override { close(); }
  net::awaitable<Result<std::size_t>> read(std::span<std::uint8_t> into) override {
    return read_from(s_, into);
  }
  net::awaitable<Result<void>> write(Bytes header, Bytes payload) override {
    return write_to(s_, std::move(header), std::move(payload));
  }
  void close() noexcept override {
    if (s_->closed) return;
    s_->closed = true;
    s_->pipe.reset();  // gives the interface back: the next connection may follow at once
    s_->read_ended.notify();
    s_->write_ended.notify();
  }
  std::string_view kind() const noexcept override { return "usb"; }

 private:
  std::shared_ptr<State> s_;
};
}  // namespace

std::unique_ptr<Transport> usb_transport(const net::asio::any_io_executor& executor,
                                         std::unique_ptr<UsbPipe> pipe) {
  return std::make_unique<UsbTransport>(std::make_shared<State>(executor, std::move(pipe)));
}
}  // namespace hb::link::detail
