// The file service. Source: AOSP packages/modules/adb, file_sync_protocol.h and SYNC.TXT, 2024 state.
#include <sys/stat.h>

#include <algorithm>
#include <cerrno>

#include "connection.hpp"

namespace hb::standin {
namespace {
constexpr std::size_t kMaxPath = 1024, kMaxChunk = 64u << 10, kMaxFile = 64u << 20;
constexpr std::size_t kAtOnce = 15 * kMaxChunk;  // one packet of 1 MiB with its records' heads
constexpr std::uint32_t kTime = 1700000000;      // the stand-in's files never change their date

constexpr std::uint32_t id(const char (&name)[5]) {
  std::uint32_t v = 0;
  for (std::size_t i = 0; i < 4; ++i) v |= static_cast<std::uint32_t>(name[i]) << (8 * i);
  return v;
}

class Record {
 public:
  Record& u32(std::uint32_t v) { return put(v, 4); }
  Record& u64(std::uint64_t v) { return put(v, 8); }
  [[nodiscard]] const Bytes& bytes() const noexcept { return bytes_; }

 private:
  Record& put(std::uint64_t v, int size) {
    for (int i = 0; i < size; ++i) bytes_.push_back(static_cast<std::uint8_t>(v >> (8 * i) & 0xff));
    return *this;
  }
  Bytes bytes_;
};

/// Acknowledges first and works then, and has the next part of a file ready before it is asked for, so that
/// host and stand-in work at the same time.
class SyncService final : public Service, public std::enable_shared_from_this<SyncService> {
 public:
  SyncService(net::io_context& io, Services& services, std::weak_ptr<DeviceStream> stream)
      : io_(io), services_(services), stream_(std::move(stream)) {}

  void data(Bytes bytes) override {
    const auto s = stream_.lock();
    if (!s) return;
    s->consumed(bytes.size());
    net::asio::post(io_, [self = shared_from_this(), b = std::move(bytes)] { self->take(b); });
  }
  void drained() override {
    const auto s = stream_.lock();
    if (!s || !file_) return;
    send_some(*s);
    if (!file_) work(*s);
  }

 private:
  void take(ByteView bytes) {
    const auto s = stream_.lock();
    if (!s || s->gone()) return;
    if (in_.empty()) bytes = bytes.subspan(work(*s, bytes));  // whole records are taken where they lie
    in_.insert(in_.end(), bytes.begin(), bytes.end());
    if (!in_.empty()) work(*s);
  }

  /// Takes the records that came whole, and says how many bytes; none while a file is on its way.
  std::size_t work(DeviceStream& s, ByteView in) {
    std::size_t taken = 0;
    while (!s.gone() && !file_) {
      const auto n = step(s, in.subspan(taken));
      if (n == 0) break;
      taken += n;
    }
    return taken;
  }
  void work(DeviceStream& s) {
    const auto taken = work(s, in_);
    in_.erase(in_.begin(), in_.begin() + static_cast<std::ptrdiff_t>(taken));
  }

  /// Takes one record from the start of `in` and says how long it was; 0 when more bytes are needed.
  std::size_t step(DeviceStream& s, ByteView in) {
    if (in.size() < 8) return 0;
    const auto what = u32_at(in, 0), size = u32_at(in, 4);
    if (sending_ && what == id("DONE")) return end_send(s), 8;
    const auto most = sending_ ? kMaxChunk : kMaxPath;
    if (size > most || (sending_ && what != id("DATA"))) return fail(s, "bad record"), s.finish(), 0;
    if (in.size() - 8 < size) return 0;
    const auto body = as_text(in.subspan(8, size));
    if (!sending_)
      request(s, what, std::string(body));
    else if (content_.size() + body.size() <= kMaxFile)
      content_ += body;
    return 8 + size;
  }

  void request(DeviceStream& s, std::uint32_t what, const std::string& path) {
    if (what == id("QUIT")) return s.finish();
    if (what == id("STAT")) return stat(s, path);
    if (what == id("STA2") || what == id("LST2")) return stat2(s, what, path);
    if (what == id("RECV")) return receive(s, path);
    if (what == id("LIST")) return s.send(Record().u32(id("DONE")).u32(0).u32(0).u32(0).u32(0).bytes());
    if (what == id("LIS2")) {
      Record r;
      r.u32(id("DONE"));
      for (int i = 0; i < 18; ++i) r.u32(0);
      return s.send(r.bytes());
    }
    if (what == id("SEND")) {
      path_ = path.substr(0, path.rfind(','));
      content_.clear();
      content_.reserve(size_of(path_).value_or(0));  // a file that is replaced is often as long
      sending_ = true;
      return;
    }
    fail(s, "unknown request");
    s.finish();
  }

  static constexpr std::uint32_t kMode = S_IFREG | 0644;

  std::optional<std::uint64_t> size_of(const std::string& path) {
    const auto file = services_.shared_file(path);
    return file ? std::optional<std::uint64_t>(file->size()) : std::nullopt;
  }

  void stat(DeviceStream& s, const std::string& path) {
    const auto size = size_of(path);
    Record r;
    r.u32(id("STAT")).u32(size ? kMode : 0).u32(static_cast<std::uint32_t>(size.value_or(0)));
    s.send(r.u32(size ? kTime : 0).bytes());
  }

  void stat2(DeviceStream& s, std::uint32_t what, const std::string& path) {
    const auto size = size_of(path);
    Record r;
    r.u32(what).u32(size ? 0 : static_cast<std::uint32_t>(ENOENT)).u64(0).u64(0);
    r.u32(size ? kMode : 0).u32(size ? 1 : 0).u32(0).u32(0).u64(size.value_or(0));
    for (int i = 0; i < 3; ++i) r.u64(size ? kTime : 0);
    s.send(r.bytes());
  }

  void receive(DeviceStream& s, const std::string& path) {
    file_ = services_.shared_file(path);
    at_ = 0;
    if (!file_) return fail(s, "No such file or directory");
    send_some(s);
  }

  /// A part of the file at a time, as the host takes it.
  void send_some(DeviceStream& s) {
    if (ready_.empty()) prepare();
    const bool last = at_ == file_->size();
    if (last) file_.reset();
    s.send_whole(std::exchange(ready_, {}));
    if (last) return;
    net::asio::post(io_, [weak = weak_from_this()] {
      const auto self = weak.lock();
      if (self && self->file_ && self->ready_.empty()) self->prepare();
    });
  }

  /// Fills `ready_` with the next part; the last one ends with DONE.
  void prepare() {
    const auto until = std::min(file_->size(), at_ + kAtOnce);
    Bytes out;
    out.reserve(until - at_ + 1024);
    const auto put = [&](ByteView b) { out.insert(out.end(), b.begin(), b.end()); };
    while (at_ < until) {
      const auto n = std::min(kMaxChunk, until - at_);
      put(Record().u32(id("DATA")).u32(static_cast<std::uint32_t>(n)).bytes());
      put(as_bytes(std::string_view(*file_).substr(at_, n)));
      at_ += n;
    }
    if (at_ == file_->size()) put(Record().u32(id("DONE")).u32(0).bytes());
    ready_ = std::move(out);
  }

  void end_send(DeviceStream& s) {
    sending_ = false;
    if (!services_.write_file(path_, std::exchange(content_, {}))) return fail(s, "Permission denied");
    s.send(Record().u32(id("OKAY")).u32(0).bytes());
  }

  static void fail(DeviceStream& s, std::string_view why) {
    s.send(Record().u32(id("FAIL")).u32(static_cast<std::uint32_t>(why.size())).bytes());
    s.send(why);
  }

  net::io_context& io_;
  Services& services_;
  std::weak_ptr<DeviceStream> stream_;
  Bytes in_;
  bool sending_ = false;
  std::string path_, content_;
  std::shared_ptr<const std::string> file_;  ///< on its way to the host
  std::size_t at_ = 0;
  Bytes ready_;  ///< the part that goes next, when it was made ahead
};
}  // namespace

void serve_sync(net::io_context& io, Services& services, const std::shared_ptr<DeviceStream>& stream) {
  stream->serve(std::make_shared<SyncService>(io, services, stream));
}
}  // namespace hb::standin
