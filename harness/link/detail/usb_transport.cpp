#include "harness/link/detail/usb_transport.hpp"

#include <deque>
#include <mutex>

#include "harness/link/detail/core.hpp"
#include "harness/link/detail/signal.hpp"

namespace hb::link::detail {
namespace {
constexpr int kMaxStalls = 2;
/// Transfers under way each way: enough to keep the cable busy while one is handled, half a megabyte at most.
constexpr std::size_t kAhead = 8;
/// A hub is asked for changes every 255 or 256 ms (USB 2.0 section 11.23.1, bInterval; from memory): twice
/// that.
constexpr net::milliseconds kHubTells{512}, kLook{16};
/// A phone answers a greeting within milliseconds. One that says nothing for so long still waits for the rest
/// of a packet, whose bench ended within it (our choice).
constexpr net::milliseconds kSilence{3000};
constexpr TimePoint kNever = TimePoint::max();

/// Lets completions through to the strand as long as the transport lives.
struct Gate {
  std::mutex mutex;
  bool open = true;
};

/// One transfer under way, and its end once that has come.
using Flight = std::shared_ptr<std::optional<UsbDone>>;

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
  UsbPipe::Callback to_strand(Flight flight, Signal State::*ended) {
    return [g = gate, weak = weak_from_this(), ex = executor, flight = std::move(flight), ended](UsbDone d) {
      const std::lock_guard lock(g->mutex);
      if (!g->open) return;
      net::asio::post(ex, [weak, flight, ended, done = std::move(d)]() mutable {
        const auto s = weak.lock();
        if (!s) return;
        *flight = std::move(done);
        ((*s).*ended).notify();
      });
    };
  }
  void start_reads() {
    while (reads.size() < kAhead) {
      const auto size = framer.next_size();
      if (!size) return;
      reads.push_back(std::make_shared<std::optional<UsbDone>>());
      pipe->read(*size, to_strand(reads.back(), &State::read_ended));
    }
  }
  void start_writes() {
    while (writes.size() < kAhead && !unsent.empty()) {
      writes.push_back(std::make_shared<std::optional<UsbDone>>());
      pipe->write(std::move(unsent.front()), to_strand(writes.back(), &State::write_ended));
      unsent.pop_front();
    }
  }

  net::asio::any_io_executor executor;
  std::shared_ptr<Gate> gate = std::make_shared<Gate>();
  UsbFramer framer;
  Bytes inbox;
  std::size_t inbox_taken = 0;
  bool closed = false, greeted = false;  ///< greeted: the first packet has been given to us
  std::deque<Flight> reads, writes;      ///< in the order of their start
  std::deque<Bytes> unsent;
  std::deque<Bytes> greeting;       ///< as it was sent first, until the phone has answered
  TimePoint silent_until = kNever;  ///< a phone that has not answered by then is reset, once
  Signal read_ended, write_ended;
  std::unique_ptr<UsbPipe> pipe;  ///< last: goes first; none once closed
};

/// A pulled cable is an error of the wire first; the hub tells of it later. Waits on `ended`, which is the
/// caller's.
net::awaitable<Error> why_lost(std::shared_ptr<State> s, UsbEnd end, Signal State::*ended) {
  const auto until = deadline_in(kHubTells);
  bool gone = end == UsbEnd::gone;
  while (!gone && s->pipe && !(gone = s->pipe->gone()) && !passed(until)) {
    const auto waited = co_await ((*s).*ended).wait_until(std::min(until, deadline_in(kLook)));
    if (!waited) break;
  }
  co_return lost(gone ? "the phone was unplugged" : "the USB connection to the phone failed");
}

/// The end of the oldest of `flights`; timed_out: none before `until`, which may change meanwhile. A wait
/// that is cancelled loses nothing: the transfer goes on.
net::awaitable<Result<UsbDone>> oldest(std::shared_ptr<State> s, std::deque<Flight> State::*flights,
                                       Signal State::*ended, const TimePoint* until = &kNever) {
  const auto front = ((*s).*flights).front();
  while (!*front && !s->closed) {
    if (passed(*until)) co_return Error{ErrorCode::timed_out, "the phone is silent", "usb", ""};
    const auto waited =
        co_await ((*s).*ended).wait_until(std::min(*until, deadline_in(std::chrono::hours(24))));
    if (!waited) co_return waited.error();
  }
  if (s->closed) co_return lost("the connection was closed");
  ((*s).*flights).pop_front();
  co_return std::move(**front);
}

Result<void> put_into_inbox(State& s, Bytes data) {
  if (s.silent_until != kNever && !data.empty()) s.silent_until = deadline_in(kSilence);
  auto bytes = s.framer.take(std::move(data));
  if (!bytes) return bytes.error();
  if (!bytes->empty()) s.greeting.clear(), s.silent_until = kNever;
  if (s.inbox.empty())
    s.inbox = std::move(*bytes);
  else
    s.inbox.insert(s.inbox.end(), bytes->begin(), bytes->end());
  return {};
}

/// Ends all reading and takes what it still brought.
net::awaitable<Result<void>> stop_reading(std::shared_ptr<State> s) {
  s->pipe->cancel(UsbPipe::Way::in);
  while (!s->reads.empty()) {
    auto d = co_await oldest(s, &State::reads, &State::read_ended);
    if (!d) co_return d.error();
    if (d->end == UsbEnd::gone || d->end == UsbEnd::failed)
      co_return co_await why_lost(s, d->end, &State::read_ended);
    const auto put = put_into_inbox(*s, std::move(d->data));
    if (!put) co_return put.error();
  }
  s->framer.restart();
  co_return Result<void>{};
}

/// The endpoint has halted.
net::awaitable<Result<void>> recover_reading(std::shared_ptr<State> s) {
  const auto stopped = co_await stop_reading(s);
  if (!stopped) co_return stopped.error();
  if (!s->pipe->clear_stall(UsbPipe::Way::in))
    co_return co_await why_lost(s, UsbEnd::stalled, &State::read_ended);
  co_return Result<void>{};
}

net::awaitable<Result<void>> flush(std::shared_ptr<State> s);

/// The phone does not answer the greeting: it begins anew, and is greeted again.
net::awaitable<Result<void>> begin_anew(std::shared_ptr<State> s) {
  s->silent_until = kNever;
  const auto stopped = co_await stop_reading(s);
  if (!stopped) co_return stopped.error();
  if (s->greeting.empty()) co_return Result<void>{};  // it came meanwhile
  if (!s->pipe->reset()) co_return co_await why_lost(s, UsbEnd::failed, &State::read_ended);
  s->unsent = std::exchange(s->greeting, {});
  co_return co_await flush(s);
}

net::awaitable<Result<std::size_t>> read_from(std::shared_ptr<State> s, std::span<std::uint8_t> into) {
  for (int stalls = 0; s->inbox_taken == s->inbox.size();) {
    if (s->closed) co_return lost("the connection was closed");
    s->inbox.clear();
    s->inbox_taken = 0;
    s->start_reads();
    auto d = co_await oldest(s, &State::reads, &State::read_ended, &s->silent_until);
    if (!d && d.error().code == ErrorCode::timed_out) {
      const auto begun = co_await begin_anew(s);
      if (!begun) co_return begun.error();
      continue;
    }
    if (!d) co_return d.error();
    const bool stalled = d->end == UsbEnd::stalled && ++stalls <= kMaxStalls;
    if (d->end != UsbEnd::done && !stalled) co_return co_await why_lost(s, d->end, &State::read_ended);
    const auto put = put_into_inbox(*s, std::move(d->data));
    if (!put) co_return put.error();
    if (!stalled) continue;
    const auto recovered = co_await recover_reading(s);
    if (!recovered) co_return recovered.error();
  }
  if (!s->closed) s->start_reads();  // the next ones are under way while these are handled
  const auto n = std::min(into.size(), s->inbox.size() - s->inbox_taken);
  std::copy_n(s->inbox.begin() + static_cast<std::ptrdiff_t>(s->inbox_taken), n, into.begin());
  s->inbox_taken += n;
  co_return n;
}

/// The endpoint has halted within or after `d`: what has not crossed is sent again, in its order.
net::awaitable<Result<void>> recover_writing(std::shared_ptr<State> s, UsbDone d) {
  const auto max_packet = s->pipe->max_packet(UsbPipe::Way::out);
  const auto moved = std::min(d.moved, d.data.size());
  const bool all = !d.data.empty() && moved == d.data.size();
  // Whole packets were taken or none: half a header would put the phone out of step.
  if (!all && moved % max_packet != 0) co_return co_await why_lost(s, d.end, &State::write_ended);
  std::deque<Bytes> again;
  if (!all) again.emplace_back(d.data.begin() + static_cast<std::ptrdiff_t>(moved), d.data.end());
  s->pipe->cancel(UsbPipe::Way::out);
  while (!s->writes.empty()) {
    auto next = co_await oldest(s, &State::writes, &State::write_ended);
    if (!next) co_return next.error();
    const bool untouched =
        next->moved == 0 && (next->end == UsbEnd::stalled || next->end == UsbEnd::cancelled);
    if (!untouched) co_return co_await why_lost(s, next->end, &State::write_ended);
    again.push_back(std::move(next->data));
  }
  if (!s->pipe->clear_stall(UsbPipe::Way::out))
    co_return co_await why_lost(s, UsbEnd::stalled, &State::write_ended);
  s->unsent.insert(s->unsent.begin(), std::make_move_iterator(again.begin()),
                   std::make_move_iterator(again.end()));
  co_return Result<void>{};
}

/// Returns when everything unsent has crossed.
net::awaitable<Result<void>> flush(std::shared_ptr<State> s) {
  for (int stalls = 0; !s->unsent.empty() || !s->writes.empty();) {
    s->start_writes();
    auto d = co_await oldest(s, &State::writes, &State::write_ended);
    if (!d) co_return d.error();
    const bool stalled = d->end == UsbEnd::stalled;
    if (stalled ? ++stalls > kMaxStalls : d->end != UsbEnd::done || d->moved != d->data.size())
      co_return co_await why_lost(s, d->end, &State::write_ended);
    if (!stalled) {
      stalls = 0;
      continue;
    }
    const auto recovered = co_await recover_writing(s, std::move(*d));
    if (!recovered) co_return recovered.error();
  }
  co_return Result<void>{};
}

net::awaitable<Result<void>> write_to(std::shared_ptr<State> s, Bytes header, Bytes payload) {
  if (s->closed) co_return lost("the connection was closed");
  const bool first = !std::exchange(s->greeted, true);
  for (auto& piece :
       usb_transfers(std::move(header), std::move(payload), s->pipe->max_packet(UsbPipe::Way::out)))
    s->unsent.push_back(std::move(piece));
  if (first) s->greeting = s->unsent;
  const auto sent = co_await flush(s);
  if (!sent || !first || s->greeting.empty()) co_return sent;
  s->silent_until = deadline_in(kSilence);
  s->read_ended.notify();
  co_return sent;
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
