/// The device end of a debug interface: two bulk endpoints in front of a daemon that listens on TCP. Takes
/// and gives transfers as a phone's USB function does, and can be stalled, held up or unplugged. Sources:
/// USB 2.0 section 5.8 (bulk), AOSP packages/modules/adb daemon/usb.cpp (a header is one transfer of exactly
/// 24 bytes; payloads leave in blocks of 16384 bytes with no zero-length end). Threads: any; two of its own
/// pump the bytes. `finished` runs on any of them, with nothing locked.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

#include "tests/link/usb/device_end.hpp"

namespace hb::test {

/// One transfer as the host's kernel hands it out again. `status` is a negated errno, 0 when all is well.
struct TransferEnd {
  std::uint64_t tag = 0;
  int status = 0;
  std::size_t actual = 0;  ///< bytes that crossed the cable
  Bytes data;              ///< in: what came
};

class Gadget {
 public:
  using Counters = DeviceCounters;
  using OnFinished = std::function<void(TransferEnd)>;

  Gadget(std::uint16_t daemon_port, OnFinished finished);
  Gadget(const Gadget&) = delete;
  Gadget& operator=(const Gadget&) = delete;
  ~Gadget();

  void submit_in(std::uint64_t tag, std::size_t size);
  void submit_out(std::uint64_t tag, Bytes data);
  /// Ends a waiting transfer with -ENOENT; false when it is not waiting any more.
  bool discard(std::uint64_t tag);
  void clear_halt(bool in);
  /// As if it had been plugged in again: whatever was half said is forgotten, and the daemon sees another
  /// cable.
  void reset();

  /// Every transfer that waits or comes ends with `status` from now on; -ESHUTDOWN is a pulled cable.
  void fail_all(int status);
  /// The endpoint stalls once `bytes` more have crossed (rounded up to whole packets), and stays halted until
  /// it is cleared; `times` in a row.
  void stall_after(bool in, std::size_t bytes, int times = 1);
  /// Stops taking or giving after `bytes` more; transfers wait.
  void hold_after(bool in, std::size_t bytes);
  void release(bool in);
  /// What is left of a former connection: packets that the host finds waiting.
  void leave_behind(const std::vector<Bytes>& packets);

  [[nodiscard]] Counters counters() const;
  /// Waits (wall time, a minute at most) until `holds` of the counters.
  [[nodiscard]] bool wait_for(const std::function<bool(const Counters&)>& holds) const;

 private:
  struct In {
    std::uint64_t tag = 0;
    std::size_t size = 0;
    Bytes data;
  };
  struct Out {
    std::uint64_t tag = 0;
    Bytes data;
  };
  struct End {
    bool halted = false;
    std::optional<std::size_t> stall, hold;
    int stalls = 0;
  };

  void start();
  void stop();
  void run_out();
  void run_in();
  void queue_transfer(ByteView bytes);
  /// Fills waiting transfers; what ended goes to `done`. Locked.
  void fill(std::vector<TransferEnd>& done);
  [[nodiscard]] bool stalls_now(End& end) const;
  void count(End& end, std::size_t n);
  void finish(std::vector<TransferEnd> done) const;

  OnFinished finished_;
  std::uint16_t port_;
  std::optional<DaemonSocket> socket_;
  mutable std::mutex mutex_;
  mutable std::condition_variable changed_;
  std::deque<In> in_;
  std::deque<Out> out_;
  std::deque<Bytes> packets_;  ///< towards the host
  End in_end_, out_end_;
  int dead_ = 0;  ///< status of everything once it is not 0
  bool closing_ = false;
  Counters counters_;
  std::thread out_thread_, in_thread_;
};
}  // namespace hb::test
