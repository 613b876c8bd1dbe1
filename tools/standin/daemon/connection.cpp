#include "connection.hpp"

#include <algorithm>

#include "harness/base/text.hpp"

namespace hb::standin {
namespace {
constexpr std::uint32_t kToken = 1, kSignature = 2, kPublicKey = 3;

/// True when a banner's feature list holds `wanted`.
bool lists(std::string_view banner, std::string_view wanted) {
  while (!banner.empty() && banner.back() == '\0') banner.remove_suffix(1);
  for (auto piece : split(banner, ';')) {
    const auto at = piece.find("features=");
    if (at == std::string_view::npos) continue;
    piece.remove_prefix(at + 9);
    for (const auto f : split(piece, ','))
      if (f == wanted) return true;
  }
  return false;
}
}  // namespace

Connection::Connection(net::tcp::socket socket, std::shared_ptr<Shared> shared)
    : socket_(std::move(socket)),
      shared_(std::move(shared)),
      reader_(std::max<std::uint32_t>(shared_->options.max_payload, link::kMaxPayloadV1)),
      out_ready_(shared_->io) {
  net::error_code ignored;
  socket_.set_option(net::tcp::no_delay(true), ignored);
}

void Connection::start() {
  net::co_spawn(shared_->io, run_reader(shared_from_this()), net::detached);
  net::co_spawn(shared_->io, run_writer(shared_from_this()), net::detached);
}

void Connection::drop(bool tell) {
  if (closed_) return;
  closed_ = true;
  net::error_code ignored;
  socket_.close(ignored);
  out_.clear();
  out_ready_.cancel();
  end_streams();
  close_forwards(tell);
}

void Connection::end_streams() {
  const auto streams = std::move(streams_);
  streams_.clear();
  for (const auto& [id, s] : streams) s->on_closed();
}

net::awaitable<void> Connection::run_reader(std::shared_ptr<Connection> self) {
  Bytes buffer(64u << 10);
  while (!self->closed_) {
    const auto [ec, n] = co_await self->socket_.async_read_some(net::asio::buffer(buffer), net::tuple);
    if (self->closed_) co_return;
    if (ec) break;
    self->reader_.feed(ByteView(buffer).first(n));
    while (!self->closed_) {
      auto p = self->reader_.next();
      if (!p) self->drop(true);
      if (!p || !*p) break;
      self->on_packet(std::move(**p));
      if (!self->closed_ && self->shared_->on_packet) self->shared_->on_packet(*self);
    }
  }
  self->drop(true);
}

net::awaitable<void> Connection::run_writer(std::shared_ptr<Connection> self) {
  while (!self->closed_) {
    if (self->out_.empty()) {
      self->out_ready_.expires_at(net::asio::steady_timer::time_point::max());
      static_cast<void>(co_await self->out_ready_.async_wait(net::tuple));
      continue;
    }
    const link::Packet p = std::move(self->out_.front());
    self->out_.pop_front();
    const Bytes header = link::encode_header(p, self->version_);
    const std::array<net::asio::const_buffer, 2> both = {net::asio::buffer(header),
                                                         net::asio::buffer(p.payload)};
    const auto [ec, n] = co_await net::asio::async_write(self->socket_, both, net::tuple);
    if (self->closed_) co_return;
    if (ec) self->drop(true);
  }
}

void Connection::send(std::uint32_t command, std::uint32_t arg0, std::uint32_t arg1, Bytes payload) {
  if (closed_) return;
  link::Packet p;
  p.command = command;
  p.arg0 = arg0;
  p.arg1 = arg1;
  p.payload = std::move(payload);
  out_.push_back(std::move(p));
  out_ready_.cancel();
}

void Connection::on_packet(link::Packet p) {
  if (p.command == link::kCnxn) return on_connect(p);
  if (p.command == link::kAuth) return on_auth(p);
  if (!online_) return;
  if (p.command == link::kOpen) return on_open(p);
  on_data(std::move(p));
}

void Connection::on_connect(const link::Packet& p) {
  const auto& o = shared_->options;
  online_ = false;
  end_streams();
  version_ = link::kVersionChecksum;
  max_payload_ = std::min(p.arg1, o.max_payload);
  reader_.set_limits(std::max<std::uint32_t>(o.max_payload, link::kMaxPayloadV1),
                     std::min(p.arg0, o.version));
  delayed_ack_ = o.delayed_ack && lists(as_text(p.payload), "delayed_ack");
  if (!o.ask_for_key) return go_online();
  send_token();
}

void Connection::send_token() {
  token_.resize(20);
  for (auto& b : token_) b = static_cast<std::uint8_t>(shared_->random() & 0xff);
  send(link::kAuth, kToken, 0, token_);
}

void Connection::on_auth(const link::Packet& p) {
  if (online_) return;
  if (p.arg0 == kSignature) {
    if (!token_.empty() && shared_->keys.signed_by_one(token_, p.payload)) return go_online();
    return send_token();
  }
  if (p.arg0 == kPublicKey && shared_->options.accept_keys)
    net::co_spawn(shared_->io, ask_owner(shared_from_this(), std::string(as_text(p.payload))), net::detached);
}

net::awaitable<void> Connection::ask_owner(std::shared_ptr<Connection> self, std::string key) {
  if (self->shared_->options.dialog.count() > 0) {
    const auto waited = co_await net::pause(self->shared_->options.dialog);
    if (!waited) co_return;
  }
  if (!self->closed_ && !self->online_ && self->shared_->keys.allow(key)) self->go_online();
}

void Connection::go_online() {
  const auto& o = shared_->options;
  std::string banner = "device::";
  for (const auto& [key, value] : shared_->services.banner()) banner += key + '=' + value + ';';
  banner += "features=" + o.features;
  if (o.delayed_ack) banner += o.features.empty() ? "delayed_ack" : ",delayed_ack";
  const auto bytes = as_bytes(banner);
  online_ = true;
  send(link::kCnxn, o.version, o.max_payload, Bytes(bytes.begin(), bytes.end()));
  version_ = o.version;
}

std::shared_ptr<DeviceStream> Connection::make_stream(std::uint32_t remote) {
  do ++last_id_;
  while (last_id_ == 0 || streams_.contains(last_id_));
  auto s = std::make_shared<DeviceStream>(weak_from_this(), last_id_, remote);
  streams_.emplace(last_id_, s);
  return s;
}

void Connection::on_open(const link::Packet& p) {
  auto name = as_text(p.payload);
  if (!name.empty() && name.back() == '\0') name.remove_suffix(1);
  if (p.arg0 == 0 || delayed_ack_ == (p.arg1 == 0)) return send(link::kClse, 0, p.arg0);
  const auto s = make_stream(p.arg0);
  // The OKAY goes out before whatever the service prints at once.
  const auto local = last_id_;
  s->open_ = s->may_send_ = true;
  s->credit_ = p.arg1;
  const std::size_t mark = out_.size();
  send(link::kOkay, local, p.arg0, delayed_ack_ ? le32(kWindow) : Bytes{});
  if (begin(name, s)) return;
  out_.resize(mark);
  streams_.erase(local);
  send(link::kClse, 0, p.arg0);
}

bool Connection::begin(std::string_view name, const std::shared_ptr<DeviceStream>& s) {
  const auto colon = name.find(':');
  if (colon == std::string_view::npos) return false;
  const auto kind = name.substr(0, colon), rest = name.substr(colon + 1);
  if (kind == "sync") {
    serve_sync(shared_->io, shared_->services, s);
  } else if (kind == "reverse") {
    s->send(reverse(rest));
    s->finish();
  } else if (kind == "shell" || kind == "exec") {
    serve_shell(shared_->services, s, std::string(rest), false, kind == "shell" && rest.empty());
  } else if (kind.starts_with("shell,")) {
    bool v2 = false, raw = false, pty = rest.empty();
    for (const auto argument : split(kind, ',')) {
      if (argument == "v2") v2 = true;
      if (argument == "raw") raw = true;
      if (argument == "pty") pty = true;
    }
    serve_shell(shared_->services, s, std::string(rest), v2, pty && !raw);
  } else {
    return false;
  }
  return true;
}

void Connection::on_data(link::Packet p) {
  const auto at = streams_.find(p.arg1);
  const auto s = at == streams_.end() ? nullptr : at->second;
  const bool known = s && (s->remote_ == 0 || p.arg0 == 0 || s->remote_ == p.arg0);
  if (!known) {
    if (p.command == link::kOkay && p.arg0 != 0) send(link::kClse, p.arg1, p.arg0);
    return;
  }
  if (p.command == link::kOkay) {
    s->on_okay(p.arg0, p.payload, delayed_ack_);
  } else if (p.command == link::kWrte && s->open_) {
    if (const auto service = s->service_)
      service->data(std::move(p.payload));
    else
      s->consumed(p.payload.size());
  } else if (p.command == link::kClse) {
    if (s->open_) send(link::kClse, p.arg1, p.arg0);
    streams_.erase(p.arg1);
    s->on_closed();
  }
}
}  // namespace hb::standin
