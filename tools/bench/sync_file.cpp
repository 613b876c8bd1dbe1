#include "sync_file.hpp"

#include <fcntl.h>
#include <sys/uio.h>
#include <unistd.h>

#include <algorithm>
#include <condition_variable>
#include <cstring>
#include <deque>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

namespace hb::bench {
namespace {
constexpr std::size_t kChunk = 64u << 10, kHead = 8;
constexpr std::size_t kAtOnce = 15 * (kChunk + kHead);  ///< fits into one packet of 1 MiB
constexpr net::milliseconds kPatience{30000};

struct File {
  explicit File(int descriptor) : fd(descriptor) {}
  File(const File&) = delete;
  File& operator=(const File&) = delete;
  ~File() {
    if (fd >= 0) ::close(fd);
  }
  int fd;
};

void put_head(std::uint8_t* at, const char* id, std::size_t size) {
  std::memcpy(at, id, 4);
  for (std::size_t i = 0; i < 4; ++i) at[4 + i] = static_cast<std::uint8_t>(size >> (8 * i) & 0xff);
}
Bytes record(const char* id, std::size_t number, std::string_view text = {}) {
  Bytes out(kHead + text.size());
  put_head(out.data(), id, number);
  std::copy(text.begin(), text.end(), out.begin() + kHead);
  return out;
}

Error bad(std::string what) { return Error{ErrorCode::bad_format, std::move(what), "sync", ""}; }

/// As many DATA records as fit into `kAtOnce`; empty at the file's end.
Bytes next_records(const File& file) {
  Bytes out(kAtOnce);
  std::size_t used = 0;
  while (used + kHead < kAtOnce) {
    const auto most = std::min(kChunk, kAtOnce - used - kHead);
    const auto n = ::read(file.fd, out.data() + used + kHead, most);
    if (n <= 0) break;
    put_head(out.data() + used, "DATA", static_cast<std::size_t>(n));
    used += kHead + static_cast<std::size_t>(n);
  }
  out.resize(used);
  return out;
}

/// A thread that writes, so that the link goes on meanwhile. At most kWaiting packets wait; push() blocks
/// then.
class DiskWriter {
 public:
  struct Work {
    Bytes packet;
    std::vector<iovec> parts;  ///< into `packet`
  };

  explicit DiskWriter(int fd) : fd_(fd), thread_([this] { run(); }) {}
  DiskWriter(const DiskWriter&) = delete;
  DiskWriter& operator=(const DiskWriter&) = delete;
  ~DiskWriter() {
    if (thread_.joinable()) static_cast<void>(finish());
  }

  void push(Work work) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return waiting_.size() < kWaiting; });
    waiting_.push_back(std::move(work));
    changed_.notify_all();
  }
  /// False when something could not be written.
  [[nodiscard]] bool finish() {
    {
      const std::lock_guard lock(mutex_);
      ending_ = true;
      changed_.notify_all();
    }
    thread_.join();
    return good_;
  }

 private:
  void run() {
    for (;;) {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [&] { return ending_ || !waiting_.empty(); });
      if (waiting_.empty()) return;
      Work work = std::move(waiting_.front());
      waiting_.pop_front();
      changed_.notify_all();
      lock.unlock();
      ssize_t size = 0;
      for (const auto& part : work.parts) size += static_cast<ssize_t>(part.iov_len);
      if (size > 0 && ::writev(fd_, work.parts.data(), static_cast<int>(work.parts.size())) != size)
        good_ = false;  // read after join()
    }
  }

  static constexpr std::size_t kWaiting = 4;
  int fd_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Work> waiting_;
  bool ending_ = false, good_ = true;
  std::thread thread_;
};

/// Finds the DATA records of a stream.
class Unpacker {
 public:
  [[nodiscard]] bool done() const noexcept { return done_; }
  /// Where in `packet` content lies.
  Result<std::vector<iovec>> feed(Bytes& packet) {
    std::vector<iovec> parts;
    std::span<std::uint8_t> bytes(packet);
    while (!bytes.empty() && !done_) {
      if (left_ == 0) {
        const auto n = std::min(kHead - held_, bytes.size());
        std::copy_n(bytes.begin(), n, head_ + held_);
        held_ += n;
        bytes = bytes.subspan(n);
        if (held_ < kHead) break;
        held_ = 0;
        if (std::memcmp(head_, "DONE", 4) == 0)
          done_ = true;
        else if (std::memcmp(head_, "DATA", 4) != 0)
          return bad("no record of a file");
        for (std::size_t i = 0; i < 4; ++i) left_ |= std::size_t{head_[4 + i]} << (8 * i);
        if (left_ > kChunk) return bad("a record is too long");
        continue;
      }
      const auto n = std::min(left_, bytes.size());
      parts.push_back({bytes.data(), n});
      left_ -= n;
      bytes = bytes.subspan(n);
    }
    return parts;
  }

 private:
  std::uint8_t head_[kHead] = {};
  std::size_t held_ = 0, left_ = 0;
  bool done_ = false;
};
}  // namespace

net::awaitable<Result<void>> send_file(std::shared_ptr<link::Link> link, std::string from, std::string to) {
  const File file(::open(from.c_str(), O_RDONLY | O_CLOEXEC));
  if (file.fd < 0) co_return Error{ErrorCode::io, "cannot read the file", from, ""};
  auto stream = co_await link->open_stream("sync:", kPatience);
  if (!stream) co_return stream.error();
  const std::string path = to + ",33188";
  auto begun = co_await (*stream)->write(record("SEND", path.size(), path), kPatience);
  if (!begun) co_return begun.error();
  for (;;) {
    co_await net::asio::post(net::asio::use_awaitable);  // the packet before leaves while the next is read
    Bytes records = next_records(file);
    if (records.empty()) break;
    auto sent = co_await (*stream)->write(std::move(records), kPatience);
    if (!sent) co_return sent.error();
  }
  auto ended = co_await (*stream)->write(record("DONE", 1700000000), kPatience);
  if (!ended) co_return ended.error();
  const auto answer = co_await (*stream)->read(kPatience);
  if (!answer) co_return answer.error();
  if (answer->size() < kHead || std::memcmp(answer->data(), "OKAY", 4) != 0) co_return bad("not taken");
  co_return Result<void>{};
}

net::awaitable<Result<void>> receive_file(std::shared_ptr<link::Link> link, std::string from,
                                          std::string to) {
  const File file(to.empty() ? -1 : ::open(to.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600));
  if (file.fd < 0 && !to.empty()) co_return Error{ErrorCode::io, "cannot write the file", to, ""};
  auto stream = co_await link->open_stream("sync:", kPatience);
  if (!stream) co_return stream.error();
  auto asked = co_await (*stream)->write(record("RECV", from.size(), from), kPatience);
  if (!asked) co_return asked.error();
  std::optional<DiskWriter> disk;
  if (file.fd >= 0) disk.emplace(file.fd);
  Unpacker unpacker;
  while (!unpacker.done()) {
    auto packet = co_await (*stream)->read(kPatience);
    if (!packet) co_return packet.error();
    if (packet->empty()) co_return bad("the file ended early");
    auto parts = unpacker.feed(*packet);
    if (!parts) co_return parts.error();
    if (disk) disk->push(DiskWriter::Work{std::move(*packet), std::move(*parts)});
  }
  if (disk && !disk->finish()) co_return Error{ErrorCode::io, "cannot write the file", to, ""};
  co_return Result<void>{};
}
}  // namespace hb::bench
