#include "terminal_output.hpp"

#include <poll.h>
#include <pthread.h>
#include <unistd.h>

#include <cerrno>
#include <condition_variable>
#include <csignal>
#include <deque>
#include <mutex>
#include <set>
#include <system_error>
#include <thread>

namespace hb::cli {
struct Output::Shared {
  struct Piece {
    int fd;
    std::string text;
  };
  std::mutex mutex;
  std::condition_variable more, less;
  std::deque<Piece> waiting;  ///< the first one is being written
  std::size_t bytes = 0;      ///< of those
  std::uint64_t written = 0;  ///< since the start: tells a slow reader from none
  std::set<int> closed;
  bool started = false, over = false;
};

namespace {
/// True when all went out. A descriptor may be non-blocking because somebody who shares it made it so.
template <class Told>
bool write_all(int fd, const std::string& text, Told told) {
  for (std::size_t at = 0; at < text.size();) {
    const ssize_t n = ::write(fd, text.data() + at, text.size() - at);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0 && errno == EAGAIN) {
      pollfd room{fd, POLLOUT, 0};
      ::poll(&room, 1, 1000);
      continue;
    }
    if (n <= 0) return false;
    at += static_cast<std::size_t>(n);
    told(static_cast<std::size_t>(n));
  }
  return true;
}

template <class Shared>
void write_on(const std::shared_ptr<Shared>& s) {
  std::unique_lock lock(s->mutex);
  for (;;) {
    s->more.wait(lock, [&] { return s->over || !s->waiting.empty(); });
    if (s->waiting.empty()) return;
    const auto piece = s->waiting.front();
    if (!s->closed.contains(piece.fd)) {
      lock.unlock();
      const bool whole = write_all(piece.fd, piece.text, [&](std::size_t n) {
        const std::lock_guard here(s->mutex);
        s->written += n;
      });
      lock.lock();
      if (!whole) s->closed.insert(piece.fd);
    }
    s->bytes -= piece.text.size();
    s->waiting.pop_front();
    s->less.notify_all();
  }
}
}  // namespace

Output::Output(int out, int err, std::chrono::milliseconds patience)
    : shared_(std::make_shared<Shared>()), patience_(patience), out_(out), err_(err) {}

Output::~Output() {
  static_cast<void>(drain());
  const std::lock_guard lock(shared_->mutex);
  shared_->over = true;
  shared_->more.notify_all();
}

bool Output::put(int fd, std::string text, std::size_t most) {
  const auto s = shared_;
  const std::lock_guard lock(s->mutex);
  if (s->closed.contains(fd) || text.empty()) return true;
  if (s->bytes + text.size() > most) return false;
  if (!s->started) {
    // A write to a place that was closed is an error of the write then, not the program's end; and no signal
    // that is meant for the run lands here.
    sigset_t all, before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    try {
      std::thread([s] { write_on(s); }).detach();
      s->started = true;
    } catch (const std::system_error&) {  // no thread to be had: then the words wait for the reader
    }
    pthread_sigmask(SIG_SETMASK, &before, nullptr);
    if (!s->started) {
      if (!write_all(fd, text, [](std::size_t) {})) s->closed.insert(fd);
      return true;
    }
  }
  s->bytes += text.size();
  s->waiting.push_back({fd, std::move(text)});
  s->more.notify_one();
  return true;
}

void Output::result(std::string text) { static_cast<void>(put(out_, std::move(text), kMostWaiting)); }
void Output::say(std::string text) { static_cast<void>(put(err_, std::move(text), kMostWaiting)); }
bool Output::picture(std::string text) { return put(err_, std::move(text), kBehind); }

bool Output::drain() {
  std::unique_lock lock(shared_->mutex);
  auto seen = shared_->written;
  auto until = std::chrono::steady_clock::now() + patience_;
  while (!shared_->waiting.empty()) {
    shared_->less.wait_for(lock, std::chrono::milliseconds(50));
    const auto now = std::chrono::steady_clock::now();
    if (shared_->written != seen) {
      seen = shared_->written;
      until = now + patience_;
    } else if (now >= until && !shared_->waiting.empty()) {
      return false;
    }
  }
  return true;
}
}  // namespace hb::cli
