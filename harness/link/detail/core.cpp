#include "harness/link/detail/core.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace hb::link::detail {
namespace {
constexpr std::size_t kReadBuffer = 64u << 10;
constexpr std::size_t kMaxQueued = 512;
/// A phone that takes no byte for so long is gone (our choice; a busy phone stalls for seconds at most).
constexpr net::milliseconds kWriteLimit{30000};
constexpr net::milliseconds kNoDeadline{std::chrono::hours(24)};

Error out_of_step(std::string what, std::uint64_t offset) {
  return Error{ErrorCode::bad_format, std::move(what), fmt::format("byte {} of the link", offset),
               "Unplug the cable, plug it in again and start the check again."};
}
}  // namespace

Error lost(std::string what) {
  return Error{ErrorCode::link_lost, std::move(what), "link", "Plug the cable in again; the run can go on."};
}

Core::Core(net::asio::any_io_executor executor, std::unique_ptr<Transport> transport, BenchRsaKey key,
           LinkOptions options)
    : executor_(executor),
      transport_(std::move(transport)),
      kind_(transport_->kind()),
      options_(std::move(options)),
      handshake_(std::move(key), options_.max_payload, options_.delayed_ack),
      reader_(std::max(options_.max_payload, static_cast<std::uint32_t>(kMaxPayloadV1))),
      out_ready_(executor),
      drained_(executor),
      opened_(executor),
      watchdog_(executor) {}

void Core::start() {
  const auto ended = [self = shared_from_this()](std::exception_ptr e) {
    if (e) self->fail(Error{ErrorCode::internal, "the link stopped on a defect of this program", "link", ""});
  };
  out_.push_back(handshake_.hello());
  net::co_spawn(executor_, run_reader(shared_from_this()), ended);
  net::co_spawn(executor_, run_writer(shared_from_this()), ended);
}

net::awaitable<void> Core::run_reader(Self self) {
  Bytes buffer(kReadBuffer);
  while (!self->failure_) {
    const auto n = co_await self->transport_->read(buffer);
    if (!n) {
      self->fail(n.error());
      co_return;
    }
    self->reader_.feed(ByteView(buffer).first(*n));
    while (!self->failure_) {
      const auto offset = self->reader_.offset();
      auto p = self->reader_.next();
      if (!p) self->fail(p.error());
      if (!p || !p->has_value()) break;
      self->handle(std::move(**p), offset);
      while (!self->failure_ && self->out_.size() >= kMaxQueued)
        static_cast<void>(co_await self->drained_.wait_until(deadline_in(kNoDeadline)));
    }
  }
}

net::awaitable<void> Core::run_writer(Self self) {
  while (!self->failure_) {
    if (self->out_.empty()) {
      static_cast<void>(co_await self->out_ready_.wait_until(deadline_in(kNoDeadline)));
      continue;
    }
    Packet p = std::move(self->out_.front());
    self->out_.pop_front();
    const bool data = p.command == kWrte;
    const auto local = p.arg0;
    Bytes header = encode_header(p, self->agreed().version);
    self->watch_write();
    const auto written = co_await self->transport_->write(std::move(header), std::move(p.payload));
    self->in_write_ = false;
    self->watchdog_.cancel();
    if (!written) {
      self->fail(written.error());
      co_return;
    }
    if (self->out_.size() < kMaxQueued) self->drained_.notify();
    const auto at = self->streams_.find(local);
    if (data && at != self->streams_.end()) {
      at->second->queued = false;
      at->second->writable.notify();
    }
  }
}

void Core::watch_write() {
  in_write_ = true;
  watchdog_.expires_after(kWriteLimit);
  watchdog_.async_wait([weak = weak_from_this(), number = ++writes_](const net::error_code& ec) {
    const auto self = weak.lock();
    if (!ec && self && self->in_write_ && self->writes_ == number)
      self->fail(lost("the phone takes no more data"));
  });
}

net::awaitable<Result<void>> Core::come_online(Self self) {
  auto deadline = deadline_in(self->options_.handshake);
  bool asked = false;
  for (;;) {
    if (self->failure_) co_return *self->failure_;
    if (self->handshake_.state() == Handshake::State::online) co_return Result<void>{};
    if (!asked && self->handshake_.state() == Handshake::State::asking_owner) {
      asked = true;
      deadline = deadline_in(self->options_.authorise);
    }
    if (passed(deadline)) {
      auto late = asked
                      ? Error{ErrorCode::unauthorised, "nobody allowed this bench on the phone in time",
                              "authorisation",
                              "Unlock the phone and tap Allow in its USB debugging question, then try again."}
                      : Error{ErrorCode::timed_out, "the phone did not answer", "opening of the link",
                              "Unplug the cable, plug it in again; check that USB debugging is on."};
      self->fail(late);
      co_return late;
    }
    const auto waited = co_await self->opened_.wait_until(deadline);
    if (!waited) {
      self->fail(waited.error());
      co_return waited.error();
    }
  }
}

void Core::fail(Error why) {
  if (failure_) return;
  failure_ = std::move(why);
  transport_->close();
  watchdog_.cancel();
  for (auto& [id, s] : streams_) {
    s->phase = StreamState::Phase::ended;
    s->failure = failure_;
    s->readable.notify();
    s->writable.notify();
  }
  streams_.clear();
  out_.clear();
  const auto dropped = std::move(forwards_);  // an acceptor may own the last handle of this very link
  forwards_.clear();
  out_ready_.notify();
  drained_.notify();
  opened_.notify();
}

void Core::send(std::uint32_t command, std::uint32_t arg0, std::uint32_t arg1, Bytes payload) {
  if (failure_) return;
  Packet p;
  p.command = command;
  p.arg0 = arg0;
  p.arg1 = arg1;
  p.payload = std::move(payload);
  out_.push_back(std::move(p));
  out_ready_.notify();
}

void Core::handle_opening(const Packet& p) {
  auto answer = handshake_.on_packet(p);
  if (!answer) return fail(answer.error());
  if (*answer) send((*answer)->command, (*answer)->arg0, (*answer)->arg1, std::move((*answer)->payload));
  if (handshake_.state() == Handshake::State::online)
    reader_.set_limits(agreed().max_payload, agreed().version);
  if (handshake_.state() == Handshake::State::asking_owner && options_.on_waiting_for_owner)
    std::exchange(options_.on_waiting_for_owner, nullptr)();
  opened_.notify();
}

void Core::handle(Packet p, std::uint64_t offset) {
  if (handshake_.state() != Handshake::State::online) return handle_opening(p);
  switch (p.command) {
    case kOpen:
      return on_open(p);
    case kOkay:
      return on_okay(p, offset);
    case kWrte:
      return on_write(std::move(p), offset);
    case kClse:
      return on_close(p);
    case kCnxn:
    case kAuth:
    case kStls:
      return fail(lost("the phone started the link anew"));
    default:
      return fail(out_of_step("the phone sent a packet of an unknown kind", offset));
  }
}
}  // namespace hb::link::detail
