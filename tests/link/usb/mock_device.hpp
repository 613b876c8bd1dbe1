// Private to the mock bus: one device's usbdevfs node.
#pragma once

#include <linux/usbdevice_fs.h>
#include <sys/ioctl.h>
#include <umockdev.h>

#include <condition_variable>
#include <deque>
#include <map>
#include <set>

#include "tests/link/usb/mock_bus.hpp"

namespace hb::test {

/// The descriptors of `spec` as sysfs holds them: device, then configuration.
[[nodiscard]] Bytes descriptors(const DeviceSpec& spec);

struct MockDevice::Impl {
  Impl(const DeviceSpec& spec, std::filesystem::path node, std::uint16_t daemon_port);
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
  ~Impl();

  gboolean on_ioctl(UMockdevIoctlClient* client);
  void on_close(UMockdevIoctlClient* client);
  void pull();

  /// The client may be another process: its memory is reached through umockdev's copies only, on umockdev's
  /// own thread only.
  struct Urb {
    UMockdevIoctlClient* client = nullptr;
    UMockdevIoctlData* urb = nullptr;     ///< the client's usbdevfs_urb
    UMockdevIoctlData* buffer = nullptr;  ///< what it points at; none for an empty transfer
    TransferEnd end;
    void drop() const;
  };
  struct Answer {
    long result = 0;
    int error = 0;
  };
  [[nodiscard]] Answer answer(UMockdevIoctlClient* client, unsigned long request, UMockdevIoctlData* arg);
  [[nodiscard]] Answer claim(UMockdevIoctlClient* client, unsigned number);
  [[nodiscard]] Answer submit(UMockdevIoctlClient* client, UMockdevIoctlData* arg);
  [[nodiscard]] Answer reap(UMockdevIoctlClient* client, UMockdevIoctlData* arg);
  [[nodiscard]] Answer discard(UMockdevIoctlClient* client, std::uintptr_t address);
  [[nodiscard]] TransferEnd control(ByteView setup) const;
  void on_finished(TransferEnd f);
  void make_reapable(Urb u);
  void show_reapable();

  DeviceSpec spec;
  std::filesystem::path node;
  int pipe = -1;  ///< full: nothing to be reaped; empty: POLLOUT
  bool pipe_full = false;
  UMockdevIoctlBase* handler;
  mutable std::mutex mutex;
  mutable std::condition_variable changed;
  std::set<UMockdevIoctlClient*> openers;
  std::map<unsigned, UMockdevIoctlClient*> claims;
  std::map<std::uint64_t, Urb> flying;  ///< by a number of ours
  std::uint64_t last_tag = 0;
  std::deque<Urb> reapable;
  bool gone = false, asleep = false;
  bool forbidden = false;  ///< the preload library connects even for an open that fails, and never closes
  unsigned long held_request = 0;
  std::vector<UMockdevIoctlClient*> held;
  std::unique_ptr<Gadget> gadget;  ///< last: its threads call on_finished
};
}  // namespace hb::test
