/// A USB bus that libusb sees through its own Linux back end: umockdev gives it a sysfs, uevents and live
/// ioctls of usbdevfs; the bulk endpoints behind them are a Gadget. Needs umockdev's preload library.
/// What umockdev cannot give: POLLERR on the node of a device that went away (the node is a pipe here). The
/// rest of an unplugging is as the kernel's: waiting URBs end with -ESHUTDOWN, calls fail with ENODEV, and a
/// uevent tells of it.
/// Source of the ioctls' meaning: Linux Documentation/driver-api/usb and drivers/usb/core/devio.c.
/// Threads: plug and unplug on one; ioctls are served on umockdev's own thread.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>

#include "tests/link/usb/gadget.hpp"

using UMockdevTestbed = struct _UMockdevTestbed;

namespace hb::test {

class MockDevice;

class MockBus {
 public:
  MockBus();
  MockBus(const MockBus&) = delete;
  MockBus& operator=(const MockBus&) = delete;
  ~MockBus();

  /// `daemon_port` 0: a device without a daemon; its transfers wait for ever.
  MockDevice& plug(const DeviceSpec& spec, std::uint16_t daemon_port);
  void unplug(int address);
  /// Nobody but the owner of this program may open the device; when that is not root, not even the owner.
  void forbid(int address);
  [[nodiscard]] std::filesystem::path node(int address) const;

 private:
  UMockdevTestbed* testbed_;
  std::filesystem::path root_;
  std::map<int, std::unique_ptr<MockDevice>> devices_;
  std::vector<std::unique_ptr<MockDevice>> pulled_;  ///< somebody may still hold them open
};

/// A device as usbdevfs shows it: who has opened it, claims, URBs under way and URBs to be reaped.
class MockDevice {
 public:
  struct Impl;
  explicit MockDevice(std::unique_ptr<Impl> impl);
  MockDevice(const MockDevice&) = delete;
  MockDevice& operator=(const MockDevice&) = delete;
  ~MockDevice();

  [[nodiscard]] Gadget& gadget();
  /// The port sleeps: URBs end or are refused with -EHOSTUNREACH, until woken.
  void suspend();
  void resume();
  /// While held, calls of this kind get no answer; they are answered on release.
  void hold_calls(unsigned long request);
  void release_calls();
  /// Waits (wall time, a minute at most) until so many have it open.
  [[nodiscard]] bool wait_for_openers(int n) const;
  [[nodiscard]] bool wait_for_held_call() const;
  [[nodiscard]] Impl& impl() { return *impl_; }

 private:
  std::unique_ptr<Impl> impl_;
};
}  // namespace hb::test
