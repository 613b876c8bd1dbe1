#include "tests/link/usb/gadget.hpp"

#include <algorithm>
#include <array>
#include <cerrno>

namespace hb::test {
namespace {
constexpr std::size_t kMaxQueued = 8192;
}  // namespace

Gadget::Gadget(std::uint16_t daemon_port, OnFinished finished)
    : finished_(std::move(finished)), port_(daemon_port) {
  start();
}

Gadget::~Gadget() { stop(); }

void Gadget::start() {
  closing_ = false;
  socket_.emplace(port_);
  out_thread_ = std::thread([this] { run_out(); });
  in_thread_ = std::thread([this] { run_in(); });
}

void Gadget::stop() {
  {
    const std::lock_guard lock(mutex_);
    closing_ = true;
  }
  changed_.notify_all();
  socket_->end();
  out_thread_.join();
  in_thread_.join();
}

void Gadget::reset() {
  stop();
  packets_.clear();
  in_end_ = out_end_ = {};
  counters_.left = 0;
  ++counters_.resets;
  start();
}

void Gadget::finish(std::vector<TransferEnd> done) const {
  for (auto& d : done) finished_(std::move(d));
  changed_.notify_all();
}

bool Gadget::stalls_now(End& end) const {
  if (!end.halted && end.stall && *end.stall == 0 && end.stalls > 0) {
    end.halted = true;
    --end.stalls;
  }
  return end.halted;
}

void Gadget::count(End& end, std::size_t n) {
  for (auto* left : {&end.stall, &end.hold})
    if (*left) **left -= std::min(**left, n);
}

void Gadget::submit_in(std::uint64_t tag, std::size_t size) {
  std::vector<TransferEnd> done;
  {
    const std::lock_guard lock(mutex_);
    in_.push_back(In{tag, size, {}});
    counters_.most_waiting_in = std::max(counters_.most_waiting_in, in_.size());
    fill(done);
  }
  finish(std::move(done));
}

void Gadget::fill(std::vector<TransferEnd>& done) {
  while (!in_.empty()) {
    auto& t = in_.front();
    int status = dead_;
    if (status == 0 && stalls_now(in_end_)) status = -EPIPE;
    bool whole = status != 0;
    while (!whole && !packets_.empty() && !(in_end_.hold && *in_end_.hold == 0) && !stalls_now(in_end_)) {
      const Bytes p = std::move(packets_.front());
      packets_.pop_front();
      if (t.data.size() + p.size() > t.size) status = -EOVERFLOW;
      t.data.insert(t.data.end(), p.begin(), p.end());
      counters_.bytes_in += p.size();
      count(in_end_, p.size());
      whole = status != 0 || p.size() < kPacket || t.data.size() == t.size;
    }
    if (!whole && !in_end_.halted) return;
    if (!whole) status = -EPIPE;
    TransferEnd f;
    f.tag = t.tag, f.status = status;
    f.actual = std::min(t.data.size(), t.size);
    f.data = std::move(t.data);
    f.data.resize(f.actual);
    in_.pop_front();
    done.push_back(std::move(f));
  }
}

void Gadget::submit_out(std::uint64_t tag, Bytes data) {
  const std::lock_guard lock(mutex_);
  out_.push_back(Out{tag, std::move(data)});
  counters_.most_waiting_out = std::max(counters_.most_waiting_out, out_.size());
  changed_.notify_all();
}

bool Gadget::discard(std::uint64_t tag) {
  std::vector<TransferEnd> done;
  {
    const std::lock_guard lock(mutex_);
    const auto in = std::find_if(in_.begin(), in_.end(), [&](const In& t) { return t.tag == tag; });
    const auto out = std::find_if(out_.begin(), out_.end(), [&](const Out& t) { return t.tag == tag; });
    if (in == in_.end() && out == out_.end()) return false;
    TransferEnd f;
    f.tag = tag, f.status = -ENOENT;
    if (in != in_.end()) {
      f.actual = in->data.size();
      f.data = std::move(in->data);
      in_.erase(in);
    } else {
      out_.erase(out);
    }
    done.push_back(std::move(f));
  }
  finish(std::move(done));
  return true;
}

void Gadget::clear_halt(bool in) {
  const std::lock_guard lock(mutex_);
  auto& end = in ? in_end_ : out_end_;
  if (end.halted) ++counters_.halts_cleared;
  end.halted = false;
  changed_.notify_all();
}

void Gadget::fail_all(int status) {
  std::vector<TransferEnd> done;
  {
    const std::lock_guard lock(mutex_);
    dead_ = status;
    fill(done);
  }
  finish(std::move(done));
}

void Gadget::stall_after(bool in, std::size_t bytes, int times) {
  std::vector<TransferEnd> done;
  {
    const std::lock_guard lock(mutex_);
    auto& end = in ? in_end_ : out_end_;
    end.stall = (bytes + kPacket - 1) / kPacket * kPacket;
    end.stalls = times;
    fill(done);
  }
  finish(std::move(done));
}

void Gadget::hold_after(bool in, std::size_t bytes) {
  const std::lock_guard lock(mutex_);
  (in ? in_end_ : out_end_).hold = bytes;
}

void Gadget::release(bool in) {
  std::vector<TransferEnd> done;
  {
    const std::lock_guard lock(mutex_);
    (in ? in_end_ : out_end_).hold.reset();
    fill(done);
  }
  finish(std::move(done));
}

void Gadget::leave_behind(const std::vector<Bytes>& packets) {
  const std::lock_guard lock(mutex_);
  packets_.insert(packets_.end(), packets.begin(), packets.end());
}

Gadget::Counters Gadget::counters() const {
  const std::lock_guard lock(mutex_);
  return counters_;
}

bool Gadget::wait_for(const std::function<bool(const Counters&)>& holds) const {
  std::unique_lock lock(mutex_);
  return changed_.wait_for(lock, std::chrono::minutes(1), [&] { return holds(counters_); });
}

void Gadget::run_out() {
  std::unique_lock lock(mutex_);
  for (;;) {
    changed_.wait(lock, [&] {
      return closing_ || (!out_.empty() && (dead_ != 0 || !(out_end_.hold && *out_end_.hold == 0)));
    });
    if (closing_) return;
    auto t = std::move(out_.front());
    out_.pop_front();
    TransferEnd f;
    f.tag = t.tag, f.status = dead_;
    if (f.status == 0 && stalls_now(out_end_)) f.status = -EPIPE;
    if (f.status == 0) {
      if (out_end_.stall && out_end_.stalls > 0 && *out_end_.stall < t.data.size()) {
        t.data.resize(*out_end_.stall / kPacket * kPacket);
        out_end_.stall = 0;
        static_cast<void>(stalls_now(out_end_));
        f.status = -EPIPE;
      }
      count(out_end_, t.data.size());
      f.actual = t.data.size();
      counters_.take(t.data);
      if (!counters_.complaint.empty()) dead_ = -ESHUTDOWN;
    }
    lock.unlock();
    if (f.actual > 0 && !socket_->send_all(t.data)) f.status = -ESHUTDOWN;
    std::vector<TransferEnd> done;
    done.push_back(std::move(f));
    finish(std::move(done));
    lock.lock();
  }
}

void Gadget::queue_transfer(ByteView bytes) {
  std::vector<TransferEnd> done;
  {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return closing_ || dead_ != 0 || packets_.size() < kMaxQueued; });
    for (std::size_t at = 0; at < bytes.size(); at += kPacket) {
      const auto piece = bytes.subspan(at, std::min(kPacket, bytes.size() - at));
      packets_.emplace_back(piece.begin(), piece.end());
    }
    fill(done);
  }
  finish(std::move(done));
}

void Gadget::run_in() {
  std::array<std::uint8_t, kHeader> header{};
  while (socket_->receive_all(header)) {
    queue_transfer(header);
    Bytes block(kBlock);
    for (std::size_t left = u32_at(header, 12); left > 0;) {
      block.resize(std::min(left, kBlock));
      if (!socket_->receive_all(block)) return;
      queue_transfer(block);
      left -= block.size();
    }
  }
}
}  // namespace hb::test
