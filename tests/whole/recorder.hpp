/// A wire tap: relays TCP connections to a port of this machine and keeps what went over.
/// Threads: its own, one for accepting and one for each connection; the getters lock.
#pragma once

#include <atomic>
#include <cstdint>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

namespace hb::test {
class Recorder {
 public:
  explicit Recorder(std::uint16_t target);
  ~Recorder();
  Recorder(const Recorder&) = delete;
  Recorder& operator=(const Recorder&) = delete;
  [[nodiscard]] std::uint16_t port() const { return port_; }
  /// Every byte that came from the side that connected.
  [[nodiscard]] std::string sent() const;
  /// What came back, without the pieces that are full (64 KiB) and hold no `mark`: pictures.
  [[nodiscard]] std::string came_back() const;
  static constexpr std::string_view mark = "Recent:";

 private:
  void accept_all();
  void relay(int client);

  std::uint16_t target_, port_ = 0;
  int listener_ = -1;
  std::atomic<bool> over_ = false;
  mutable std::mutex lock_;
  std::string sent_, came_back_;
  std::vector<std::thread> relays_;
  std::thread accepting_;
};
}  // namespace hb::test
