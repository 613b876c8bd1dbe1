// The file service. Source: AOSP packages/modules/adb, file_sync_protocol.h and SYNC.TXT, 2024 state.
#include <sys/stat.h>

#include <cerrno>

#include "connection.hpp"

namespace hb::standin {
namespace {
constexpr std::size_t kMaxPath = 1024, kMaxChunk = 64u << 10, kMaxFile = 64u << 20;
constexpr std::uint32_t kTime = 1700000000;  // the stand-in's files never change their date

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

class SyncService final : public Service {
 public:
  SyncService(Services& services, std::weak_ptr<DeviceStream> stream)
      : services_(services), stream_(std::move(stream)) {}

  void data(ByteView bytes) override {
    const auto s = stream_.lock();
    if (!s) return;
    in_.insert(in_.end(), bytes.begin(), bytes.end());
    while (!s->gone() && step(*s)) {
    }
    s->consumed(bytes.size());
  }

 private:
  /// Takes one whole record from the input; false when more bytes are needed.
  bool step(DeviceStream& s) {
    if (in_.size() < 8) return false;
    const auto what = u32_at(in_, 0), size = u32_at(in_, 4);
    if (sending_ && what == id("DONE")) {
      in_.erase(in_.begin(), in_.begin() + 8);
      end_send(s);
      return true;
    }
    const auto most = sending_ ? kMaxChunk : kMaxPath;
    if (size > most || (sending_ && what != id("DATA"))) return fail(s, "bad record"), s.finish(), false;
    if (in_.size() - 8 < size) return false;
    const std::string body(as_text(ByteView(in_).subspan(8, size)));
    in_.erase(in_.begin(), in_.begin() + 8 + static_cast<std::ptrdiff_t>(size));
    if (sending_)
      content_ += content_.size() + body.size() <= kMaxFile ? body : std::string();
    else
      request(s, what, body);
    return true;
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
      sending_ = true;
      return;
    }
    fail(s, "unknown request");
    s.finish();
  }

  static constexpr std::uint32_t kMode = S_IFREG | 0644;

  void stat(DeviceStream& s, const std::string& path) {
    const auto file = services_.read_file(path);
    Record r;
    r.u32(id("STAT")).u32(file ? kMode : 0).u32(file ? static_cast<std::uint32_t>(file->size()) : 0);
    s.send(r.u32(file ? kTime : 0).bytes());
  }

  void stat2(DeviceStream& s, std::uint32_t what, const std::string& path) {
    const auto file = services_.read_file(path);
    Record r;
    r.u32(what).u32(file ? 0 : static_cast<std::uint32_t>(ENOENT)).u64(0).u64(0);
    r.u32(file ? kMode : 0).u32(file ? 1 : 0).u32(0).u32(0).u64(file ? file->size() : 0);
    for (int i = 0; i < 3; ++i) r.u64(file ? kTime : 0);
    s.send(r.bytes());
  }

  void receive(DeviceStream& s, const std::string& path) {
    const auto file = services_.read_file(path);
    if (!file) return fail(s, "No such file or directory");
    for (std::string_view rest = *file; !rest.empty(); rest.remove_prefix(std::min(kMaxChunk, rest.size()))) {
      const auto piece = rest.substr(0, kMaxChunk);
      s.send(Record().u32(id("DATA")).u32(static_cast<std::uint32_t>(piece.size())).bytes());
      s.send(piece);
    }
    s.send(Record().u32(id("DONE")).u32(0).bytes());
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

  Services& services_;
  std::weak_ptr<DeviceStream> stream_;
  Bytes in_;
  bool sending_ = false;
  std::string path_, content_;
};
}  // namespace

void serve_sync(Services& services, const std::shared_ptr<DeviceStream>& stream) {
  stream->serve(std::make_shared<SyncService>(services, stream));
}
}  // namespace hb::standin
