// Streams of a link: opening, flow control, ends. See core.hpp for who owns what.
#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "harness/link/detail/core.hpp"

namespace hb::link::detail {
namespace {
constexpr std::size_t kJoinUpTo = 16u << 10;

/// Marks a stream as being read or written; a second reader or writer at the same time is a defect.
class Turn {
 public:
  explicit Turn(bool& busy) : busy_(busy) { busy_ = true; }
  Turn(const Turn&) = delete;
  Turn& operator=(const Turn&) = delete;
  ~Turn() { busy_ = false; }

 private:
  bool& busy_;
};

Error two_at_once() {
  return Error{ErrorCode::internal, "one stream is used by two callers at once", "stream", ""};
}

Error too_late(std::string what) {
  return Error{ErrorCode::timed_out, std::move(what), "stream", "Look at the phone; then try again."};
}

Bytes le32(std::uint32_t v) {
  Bytes out(4);
  for (std::size_t i = 0; i < 4; ++i) out[i] = static_cast<std::uint8_t>(v >> (8 * i) & 0xff);
  return out;
}

std::int32_t le32(ByteView b) {
  std::uint32_t v = 0;
  for (std::size_t i = 0; i < 4; ++i) v |= std::uint32_t{b[i]} << (8 * i);
  return static_cast<std::int32_t>(v);
}

class StreamHandle final : public Stream {
 public:
  StreamHandle(Core::Self core, StreamPtr s) : core_(std::move(core)), s_(std::move(s)) {}
  StreamHandle(const StreamHandle&) = delete;
  StreamHandle& operator=(const StreamHandle&) = delete;
  ~StreamHandle() override { core_->close(*s_); }
  net::awaitable<Result<Bytes>> read(net::milliseconds deadline) override {
    return Core::read(core_, s_, deadline_in(deadline));
  }
  net::awaitable<Result<void>> write(Bytes data, net::milliseconds deadline) override {
    return Core::write(core_, s_, std::move(data), deadline_in(deadline));
  }
  void close() override { core_->close(*s_); }

 private:
  Core::Self core_;
  StreamPtr s_;
};

/// Keeps the acceptor alive as long as the coroutine that it made.
net::awaitable<void> serve(std::shared_ptr<const Core::Acceptor> acceptor, std::unique_ptr<Stream> stream) {
  co_await (*acceptor)(std::move(stream));
}
}  // namespace

std::unique_ptr<Stream> Core::handle_for(StreamPtr s) {
  return std::make_unique<StreamHandle>(shared_from_this(), std::move(s));
}

StreamPtr Core::make_stream() {
  do ++last_id_;
  while (last_id_ == 0 || streams_.contains(last_id_));
  auto s = std::make_shared<StreamState>(executor_, last_id_);
  streams_.emplace(last_id_, s);
  return s;
}

/// The stream with our id `local`, if `remote` is its other end (0: any, as old phones close with 0).
StreamPtr Core::find(std::uint32_t local, std::uint32_t remote) const {
  const auto at = streams_.find(local);
  if (at == streams_.end()) return nullptr;
  const auto& s = at->second;
  return s->remote == 0 || remote == 0 || s->remote == remote ? s : nullptr;
}

std::uint32_t Core::window() const {
  constexpr std::size_t most = std::numeric_limits<std::int32_t>::max();
  return static_cast<std::uint32_t>(std::clamp<std::size_t>(options_.max_unread_per_stream, 1, most));
}

net::awaitable<Result<std::unique_ptr<Stream>>> Core::open(Self self, std::string service,
                                                           TimePoint deadline) {
  if (self->failure_) co_return *self->failure_;
  if (service.empty() || service.find('\0') != std::string::npos ||
      service.size() + 1 > self->agreed().max_payload)
    co_return Error{ErrorCode::invalid_argument, "the request is empty, too long or holds a NUL", "stream",
                    ""};
  if (self->streams_.size() >= self->options_.max_streams)
    co_return Error{ErrorCode::refused, "too many streams are open on this link", "stream",
                    "Wait for the running checks to end."};
  const auto s = self->make_stream();
  auto handle = self->handle_for(s);  // whatever happens from here on, its end closes the stream
  Bytes name(service.begin(), service.end());
  name.push_back(0);
  self->send(kOpen, s->local, self->agreed().delayed_ack ? self->window() : 0, std::move(name));
  for (;;) {
    if (s->failure) co_return *s->failure;
    if (s->refused)
      co_return Error{ErrorCode::refused, "the phone does not offer this service", "stream", ""};
    if (s->phase != StreamState::Phase::opening) co_return Result<std::unique_ptr<Stream>>(std::move(handle));
    if (passed(deadline)) co_return too_late("the phone did not open a stream in time");
    const auto waited = co_await s->readable.wait_until(deadline);
    if (!waited) co_return waited.error();
  }
}

net::awaitable<Result<Bytes>> Core::read(Self self, StreamPtr s, TimePoint deadline) {
  if (s->reading) co_return two_at_once();
  const Turn turn(s->reading);
  for (;;) {
    if (!s->unread.empty()) co_return self->take(*s);
    if (s->failure) co_return *s->failure;
    if (s->phase == StreamState::Phase::ended) co_return Bytes{};
    if (passed(deadline)) co_return too_late("the phone sent nothing in time");
    const auto waited = co_await s->readable.wait_until(deadline);
    if (!waited) co_return waited.error();
  }
}

net::awaitable<Result<void>> Core::write(Self self, StreamPtr s, Bytes data, TimePoint deadline) {
  if (s->writing) co_return two_at_once();
  const Turn turn(s->writing);
  std::size_t at = 0;
  while (at < data.size()) {
    if (s->failure) co_return *s->failure;
    if (s->phase == StreamState::Phase::ended)
      co_return Error{ErrorCode::refused, "the phone closed the stream", "stream", "Start the check again."};
    const auto n = std::min(self->may_send_bytes(*s), data.size() - at);
    if (n > 0) {
      const auto from = data.begin() + static_cast<std::ptrdiff_t>(at);
      const auto size = data.size();
      Bytes piece = n == size ? std::move(data) : Bytes(from, from + static_cast<std::ptrdiff_t>(n));
      s->queued = true;
      s->may_send = false;
      s->credit -= static_cast<std::int64_t>(n);
      self->send(kWrte, s->local, s->remote, std::move(piece));
      at += n;
      if (n == size) break;
      continue;
    }
    if (passed(deadline)) co_return too_late("the phone took no data in time");
    const auto waited = co_await s->writable.wait_until(deadline);
    if (!waited) co_return waited.error();
  }
  co_return Result<void>{};
}

void Core::close(StreamState& s) {
  if (s.phase == StreamState::Phase::ended) return;
  if (s.phase == StreamState::Phase::open) send(kClse, s.local, s.remote);
  s.unread.clear();
  s.unread_bytes = 0;
  end(s, Error{ErrorCode::cancelled, "the stream was closed on the bench", "stream", ""});
}

void Core::end(StreamState& s, std::optional<Error> failure) {
  s.phase = StreamState::Phase::ended;
  s.failure = std::move(failure);
  s.readable.notify();
  s.writable.notify();
  streams_.erase(s.local);  // the caller or a handle still holds it
}

Bytes Core::take(StreamState& s) {
  Bytes out = std::move(s.unread.front());
  s.unread.pop_front();
  s.unread_bytes -= out.size();
  if (s.phase == StreamState::Phase::open) acknowledge(s, out.size());
  return out;
}

bool Core::room_for_more(const StreamState& s) const {
  return s.unread_bytes == 0 || s.unread_bytes + agreed().max_payload <= options_.max_unread_per_stream;
}

std::size_t Core::may_send_bytes(const StreamState& s) const {
  if (s.phase != StreamState::Phase::open || s.queued) return 0;
  if (!agreed().delayed_ack) return s.may_send ? agreed().max_payload : 0;
  return static_cast<std::size_t>(std::clamp<std::int64_t>(s.credit, 0, agreed().max_payload));
}

/// Plain: OKAY for a packet once another one fits. Delayed acks: OKAY with the number of bytes taken out.
void Core::acknowledge(StreamState& s, std::size_t consumed) {
  if (agreed().delayed_ack) {
    if (consumed > 0) send(kOkay, s.local, s.remote, le32(static_cast<std::uint32_t>(consumed)));
    return;
  }
  if (!s.okay_owed || !room_for_more(s)) return;
  s.okay_owed = false;
  send(kOkay, s.local, s.remote);
}

void Core::on_open(const Packet& p) {
  auto name = as_text(p.payload);
  if (!name.empty() && name.back() == '\0') name.remove_suffix(1);
  const auto asked = forwards_.find(name);
  const bool window_fits = agreed().delayed_ack == (p.arg1 != 0);
  if (p.arg0 == 0) return;
  if (asked == forwards_.end() || !window_fits || streams_.size() >= options_.max_streams)
    return send(kClse, 0, p.arg0);
  const auto s = make_stream();
  s->remote = p.arg0;
  s->phase = StreamState::Phase::open;
  s->may_send = true;
  s->credit = p.arg1;
  send(kOkay, s->local, s->remote, agreed().delayed_ack ? le32(window()) : Bytes{});
  net::co_spawn(executor_, serve(asked->second, handle_for(s)), net::detached);
}

void Core::on_okay(const Packet& p, std::uint64_t offset) {
  const auto s = find(p.arg1, p.arg0);
  if (!s || p.arg0 == 0) {
    if (p.arg0 != 0) send(kClse, p.arg1, p.arg0);
    return;
  }
  if (agreed().delayed_ack) {
    if (p.payload.size() != 4)
      return fail(Error{ErrorCode::bad_format, "an acknowledgement of the phone has the wrong length",
                        fmt::format("byte {} of the link", offset),
                        "Unplug the cable and plug it in again."});
    constexpr std::int64_t most = std::int64_t{1} << 40;
    s->credit = std::clamp(s->credit + le32(ByteView(p.payload)), -most, most);
  }
  if (s->phase == StreamState::Phase::opening) {
    s->phase = StreamState::Phase::open;
    s->remote = p.arg0;
    s->readable.notify();
  }
  s->may_send = true;
  s->writable.notify();
}

void Core::on_write(Packet p, std::uint64_t offset) {
  const auto s = find(p.arg1, p.arg0);
  if (!s || s->phase != StreamState::Phase::open || p.arg0 == 0) return;
  const auto size = p.payload.size();
  const auto most = std::max<std::size_t>(options_.max_unread_per_stream, agreed().max_payload);
  if (s->unread_bytes + size > most) {
    send(kClse, s->local, s->remote);
    s->unread.clear();
    s->unread_bytes = 0;
    return end(*s, Error{ErrorCode::bad_format, "the phone sent more than it was allowed to",
                         fmt::format("byte {} of the link", offset), "Start the check again."});
  }
  if (size > 0) {
    // Small packets are joined, so that a flood of tiny ones costs no more memory than its bytes.
    if (!s->unread.empty() && s->unread.back().size() + size <= kJoinUpTo)
      s->unread.back().insert(s->unread.back().end(), p.payload.begin(), p.payload.end());
    else
      s->unread.push_back(std::move(p.payload));
    s->unread_bytes += size;
    s->readable.notify();
  }
  s->okay_owed = true;
  acknowledge(*s, 0);
}

void Core::on_close(const Packet& p) {
  const auto s = find(p.arg1, p.arg0);
  if (!s) return;
  s->refused = s->phase == StreamState::Phase::opening;
  if (s->phase == StreamState::Phase::open) send(kClse, s->local, s->remote);
  end(*s, std::nullopt);
}

bool Core::add_forward(std::uint16_t host_port, Acceptor acceptor) {
  return forwards_
      .try_emplace(fmt::format("tcp:{}", host_port), std::make_shared<const Acceptor>(std::move(acceptor)))
      .second;
}

void Core::drop_forward(std::uint16_t host_port) { forwards_.erase(fmt::format("tcp:{}", host_port)); }
}  // namespace hb::link::detail
