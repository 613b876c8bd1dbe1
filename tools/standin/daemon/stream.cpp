#include <algorithm>

#include "connection.hpp"

namespace hb::standin {
void DeviceStream::send(ByteView bytes) {
  if (gone()) return;
  if (empty()) bytes = bytes.subspan(send_now(bytes));
  if (bytes.empty()) return;
  pending_.append(as_text(bytes));
  pump();
}

void DeviceStream::send_whole(Bytes bytes) {
  if (!gone() && empty() && !bytes.empty() && bytes.size() <= host_takes()) return pass_on(std::move(bytes));
  send(ByteView(bytes));
}

void DeviceStream::finish() {
  if (gone()) return;
  finishing_ = true;
  pump();
}

void DeviceStream::consumed(std::size_t n) {
  const auto c = connection_.lock();
  if (!c || ended_) return;
  c->send(link::kOkay, local_, remote_, c->delayed_ack() ? le32(static_cast<std::uint32_t>(n)) : Bytes{});
}

void DeviceStream::on_okay(std::uint32_t remote, ByteView payload, bool delayed) {
  remote_ = remote;
  open_ = may_send_ = true;
  if (delayed && payload.size() == 4) credit_ += static_cast<std::int32_t>(u32_at(payload, 0));
  pump();
  if (empty() && service_ && !gone()) service_->drained();
}

void DeviceStream::on_closed() {
  const bool tell = !gone();
  ended_ = true;
  pending_.clear();
  sent_ = 0;
  if (const auto service = std::move(service_); service && tell) service->closed();
}

/// Bytes that the host takes in one packet now.
std::size_t DeviceStream::host_takes() const {
  const auto c = connection_.lock();
  if (!c || ended_ || !open_) return 0;
  const auto most = std::int64_t{c->max_payload()};
  const auto room = c->delayed_ack() ? std::clamp<std::int64_t>(credit_, 0, most) : may_send_ ? most : 0;
  return static_cast<std::size_t>(room);
}

void DeviceStream::pass_on(Bytes piece) {
  may_send_ = false;
  credit_ -= static_cast<std::int64_t>(piece.size());
  if (const auto c = connection_.lock()) c->send(link::kWrte, local_, remote_, std::move(piece));
}

/// Sends what the host takes at once and says how much that was.
std::size_t DeviceStream::send_now(ByteView bytes) {
  std::size_t at = 0;
  while (at < bytes.size()) {
    const auto n = std::min(host_takes(), bytes.size() - at);
    if (n == 0) break;
    const auto piece = bytes.subspan(at, n);
    pass_on(Bytes(piece.begin(), piece.end()));
    at += n;
  }
  return at;
}

void DeviceStream::pump() {
  if (!open_ || ended_) return;
  sent_ += send_now(as_bytes(std::string_view(pending_).substr(sent_)));
  if (empty() || sent_ > pending_.size() / 2) {  // so each byte moves up once at most, on average
    pending_.erase(0, sent_);
    sent_ = 0;
  }
  const auto c = connection_.lock();
  if (!c || !finishing_ || !empty()) return;
  ended_ = true;
  c->send(link::kClse, local_, remote_);
  service_.reset();
  c->forget(local_);
}
}  // namespace hb::standin
