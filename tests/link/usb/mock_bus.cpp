#include "tests/link/usb/mock_bus.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <stdexcept>

#include "mock_device.hpp"

namespace hb::test {
namespace {
void put16(Bytes& b, std::size_t v) {
  b.push_back(static_cast<std::uint8_t>(v & 0xff));
  b.push_back(static_cast<std::uint8_t>(v >> 8 & 0xff));
}

std::string hex(const Bytes& b) {
  std::string out;
  for (const auto c : b) out += fmt::format("{:02x}", c);
  return out;
}

std::string node_name(int address) { return fmt::format("bus/usb/001/{:03}", address); }
}  // namespace

Bytes descriptors(const DeviceSpec& spec) {  // USB 2.0 sections 9.6.1, 9.6.3
  Bytes out = {18, 1, 0x00, 0x02, 0, 0, 0, 64, 0xfe, 0xca, 0x0d, 0xf0, 0, 1, 0, 0, 3, 1};
  const auto config = interface_descriptors(spec);
  out.push_back(9);
  out.push_back(2);
  put16(out, 9 + config.size());
  const auto count = static_cast<std::uint8_t>(spec.interfaces.size());
  for (const std::uint8_t b :
       {count, std::uint8_t{1}, std::uint8_t{0}, std::uint8_t{0x80}, std::uint8_t{250}})
    out.push_back(b);
  out.insert(out.end(), config.begin(), config.end());
  return out;
}

MockBus::MockBus() {
  const char* preload = std::getenv("LD_PRELOAD");
  if (preload == nullptr || std::string_view(preload).find("libumockdev-preload") == std::string_view::npos)
    throw std::runtime_error("run this with LD_PRELOAD=libumockdev-preload.so.0 (ctest does)");
  testbed_ = umockdev_testbed_new();
  gchar* root = umockdev_testbed_get_root_dir(testbed_);
  root_ = root;
  g_free(root);
  DeviceSpec hub;
  hub.address = 1;
  hub.port = "usb1";
  hub.interfaces = {{0x09, 0x00, 0x00, {0x81}}};
  plug(hub, 0);
}

MockBus::~MockBus() {
  while (!devices_.empty()) unplug(devices_.rbegin()->first);
  g_object_unref(testbed_);
}

std::filesystem::path MockBus::node(int address) const { return root_ / "dev" / node_name(address); }

void MockBus::forbid(int address) {
  devices_.at(address)->impl().forbidden = true;
  using std::filesystem::perms;
  permissions(node(address), perms::owner_read | perms::owner_write);
  permissions(root_, perms::all);                                   // udev's stand-in makes its sockets here
  const auto calls = root_ / "ioctl" / "dev" / node_name(address);  // and looks for this before it opens
  permissions(calls, perms::all);
  if (::geteuid() != 0) permissions(node(address), perms::none);
}

MockDevice& MockBus::plug(const DeviceSpec& spec, std::uint16_t daemon_port) {
  auto impl = std::make_unique<MockDevice::Impl>(spec, node(spec.address), daemon_port);
  umockdev_testbed_attach_ioctl(testbed_, ("/dev/" + node_name(spec.address)).c_str(), impl->handler,
                                nullptr);
  const auto text = fmt::format(
      "P: /devices/{}{}\nE: SUBSYSTEM=usb\nE: DEVTYPE=usb_device\nE: DRIVER=usb\nE: BUSNUM=001\nE: "
      "DEVNUM={:03}\nE: DEVNAME=/dev/{}\nA: busnum=1\\n\nA: devnum={}\\n\nA: bConfigurationValue=1\\n\nA: "
      "speed=480\\n\nH: descriptors={}\n",
      spec.port == "usb1" ? "" : "usb1/", spec.port, spec.address, node_name(spec.address), spec.address,
      hex(descriptors(spec)));
  auto& device = *(devices_[spec.address] = std::make_unique<MockDevice>(std::move(impl)));
  GError* error = nullptr;
  if (umockdev_testbed_add_from_string(testbed_, text.c_str(), &error) == FALSE)
    throw std::runtime_error(error->message);
  return device;
}

void MockBus::unplug(int address) {
  pulled_.push_back(std::move(devices_.at(address)));
  devices_.erase(address);
  auto& device = pulled_.back()->impl();
  device.pull();
  const auto path =
      fmt::format("/sys/devices/{}{}", device.spec.port == "usb1" ? "" : "usb1/", device.spec.port);
  umockdev_testbed_uevent(testbed_, path.c_str(), "remove");
  umockdev_testbed_remove_device(testbed_, path.c_str());
  umockdev_testbed_detach_ioctl(testbed_, ("/dev/" + node_name(address)).c_str(), nullptr);
  std::filesystem::remove(node(address));
}

MockDevice::MockDevice(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
MockDevice::~MockDevice() {
  if (!impl_->forbidden) static_cast<void>(wait_for_openers(0));
}
Gadget& MockDevice::gadget() { return *impl_->gadget; }

void MockDevice::suspend() {
  {
    const std::lock_guard lock(impl_->mutex);
    impl_->asleep = true;
  }
  impl_->gadget->fail_all(-EHOSTUNREACH);
}
void MockDevice::resume() {
  impl_->gadget->fail_all(0);
  const std::lock_guard lock(impl_->mutex);
  impl_->asleep = false;
}
void MockDevice::hold_calls(unsigned long request) {
  const std::lock_guard lock(impl_->mutex);
  impl_->held_request = request;
}
void MockDevice::release_calls() {
  std::vector<UMockdevIoctlClient*> held;
  {
    const std::lock_guard lock(impl_->mutex);
    impl_->held_request = 0;
    held.swap(impl_->held);
  }
  for (auto* c : held) {
    umockdev_ioctl_client_complete(c, 0, 0);
    g_object_unref(c);
  }
}
bool MockDevice::wait_for_openers(int n) const {
  std::unique_lock lock(impl_->mutex);
  return impl_->changed.wait_for(lock, std::chrono::minutes(1),
                                 [&] { return impl_->openers.size() == static_cast<std::size_t>(n); });
}
bool MockDevice::wait_for_held_call() const {
  std::unique_lock lock(impl_->mutex);
  return impl_->changed.wait_for(lock, std::chrono::minutes(1), [&] { return !impl_->held.empty(); });
}
}  // namespace hb::test
