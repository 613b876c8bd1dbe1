/// A USB device as Linux makes one of itself: a configfs gadget whose interfaces are a FunctionFS, plugged
/// into a port of dummy_hcd; host and device side are the kernel's own. Behind the debug interface is a
/// daemon that listens on TCP. Root only; the modules must be there. Sources: Linux
/// Documentation/usb/functionfs.rst, gadget_configfs.rst, include/uapi/linux/usb/functionfs.h; how a phone
/// cuts its bytes: AOSP packages/modules/adb daemon/usb.cpp. Threads: one calls; three of its own move the
/// bytes.
#pragma once

#include <linux/usb/functionfs.h>

#include <atomic>
#include <condition_variable>
#include <functional>
#include <memory>
#include <mutex>
#include <thread>

#include "tests/link/usb/device_end.hpp"

namespace hb::test {

class UsbPhone {
 public:
  /// `controller` counts dummy_hcd's ports from 0. `daemon_port` 0: nothing behind it. Not plugged in yet.
  UsbPhone(int controller, const DeviceSpec& spec, std::uint16_t daemon_port);
  UsbPhone(const UsbPhone&) = delete;
  UsbPhone& operator=(const UsbPhone&) = delete;
  ~UsbPhone();

  void plug();
  void unplug();
  /// The endpoint halts once `bytes` more have crossed (rounded up to whole blocks of 16384), `times` in a
  /// row.
  void stall_after(bool in, std::size_t bytes, int times = 1);
  /// Of the present connection.
  [[nodiscard]] DeviceCounters counters() const;
  /// Waits (wall time, a minute at most) until `holds` of the counters.
  [[nodiscard]] bool wait_for(const std::function<bool(const DeviceCounters&)>& holds) const;

 private:
  struct End {
    int file = -1;
    std::size_t left = 0;
    int stalls = 0;
  };
  /// From the host's choice of the configuration until it is taken back.
  struct Session {
    explicit Session(std::uint16_t port) : daemon(port) {}
    DaemonSocket daemon;
    std::atomic<bool> ends{false};
    std::atomic<int> pumps{2};
    std::thread out, in;
  };

  void describe(const DeviceSpec& spec);
  void run_events();
  void begin();
  void finish();
  void run_out(Session& s);
  void run_in(Session& s);
  /// Halts the endpoint when its time has come.
  void stall_if_due(const Session& s, bool in);
  [[nodiscard]] bool write_in(const Session& s, ByteView transfer);
  void count(bool in, std::size_t n);

  std::string gadget_, mount_;
  std::uint16_t port_;
  int controller_, control_ = -1, wake_ = -1;
  std::unique_ptr<Session> session_;
  mutable std::mutex mutex_;
  mutable std::condition_variable changed_;
  End in_, out_;
  DeviceCounters counters_;
  std::thread events_;
};
}  // namespace hb::test
