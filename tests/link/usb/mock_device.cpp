#include "mock_device.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <stdexcept>

namespace hb::test {
namespace {
constexpr std::size_t kPipe = 4096;  // one page: the smallest pipe

template <class T>
T read_as(const void* p) {
  T v;
  std::memcpy(&v, p, sizeof v);
  return v;
}

gboolean ioctl_signal(UMockdevIoctlBase*, UMockdevIoctlClient* client, gpointer impl) {
  return static_cast<MockDevice::Impl*>(impl)->on_ioctl(client);
}
/// umockdev 0.17 sends no signal when a client closes; it lets go of the object.
void close_notice(gpointer impl, GObject* client) {
  static_cast<MockDevice::Impl*>(impl)->on_close(reinterpret_cast<UMockdevIoctlClient*>(client));
}
void open_signal(UMockdevIoctlBase*, UMockdevIoctlClient* client, gpointer p) {
  auto* impl = static_cast<MockDevice::Impl*>(p);
  g_object_weak_ref(G_OBJECT(client), close_notice, impl);
  const std::lock_guard lock(impl->mutex);
  impl->openers.insert(client);
  impl->changed.notify_all();
}
std::uint64_t tag_of(const usbdevfs_urb* urb) { return reinterpret_cast<std::uintptr_t>(urb); }
}  // namespace

MockDevice::Impl::Impl(const DeviceSpec& s, std::filesystem::path n, std::uint16_t daemon_port)
    : spec(s), node(std::move(n)), handler(umockdev_ioctl_base_new()) {
  std::filesystem::create_directories(node.parent_path());
  if (::mkfifo(node.c_str(), 0666) != 0) throw std::runtime_error("no node for a mock device");
  pipe = ::open(node.c_str(), O_RDWR | O_NONBLOCK | O_CLOEXEC);
  ::fcntl(pipe, F_SETPIPE_SZ, static_cast<int>(kPipe));
  show_reapable();
  g_signal_connect(handler, "handle-ioctl", G_CALLBACK(ioctl_signal), this);
  g_signal_connect(handler, "client-connected", G_CALLBACK(open_signal), this);
  if (daemon_port != 0)
    gadget = std::make_unique<Gadget>(daemon_port, [this](Finished f) { on_finished(std::move(f)); });
}

MockDevice::Impl::~Impl() {
  gadget.reset();
  g_signal_handlers_disconnect_by_data(handler, this);
  for (auto* c : openers) g_object_weak_unref(G_OBJECT(c), close_notice, this);
  g_object_unref(handler);
  ::close(pipe);
}

void MockDevice::Impl::show_reapable() {
  std::array<char, kPipe> page{};
  const bool full = reapable.empty();
  if (full == pipe_full) return;
  pipe_full = full;
  const auto moved = full ? ::write(pipe, page.data(), page.size()) : ::read(pipe, page.data(), page.size());
  if (moved != static_cast<ssize_t>(kPipe)) throw std::runtime_error("the mock device's pipe is out of step");
}

void MockDevice::Impl::make_reapable(Urb u) {
  reapable.push_back(u);
  show_reapable();
}

void MockDevice::Impl::on_finished(Finished f) {
  const std::lock_guard lock(mutex);
  const auto at = flying.find(f.tag);
  if (at == flying.end()) return;
  const Urb u = at->second;
  flying.erase(at);
  u.urb->status = f.status;
  u.urb->actual_length = static_cast<int>(f.actual);
  if (!f.data.empty()) std::memcpy(u.urb->buffer, f.data.data(), f.data.size());
  if (f.status == 0 && (u.urb->flags & USBDEVFS_URB_SHORT_NOT_OK) != 0 &&
      u.urb->actual_length < u.urb->buffer_length)
    u.urb->status = -EREMOTEIO;
  make_reapable(u);
}

void MockDevice::Impl::on_close(UMockdevIoctlClient* client) {
  std::vector<std::uint64_t> orphans;
  {
    const std::lock_guard lock(mutex);
    openers.erase(client);
    std::erase_if(claims, [&](const auto& c) { return c.second == client; });
    std::erase_if(reapable, [&](const Urb& u) { return u.client == client; });
    for (const auto& [tag, u] : flying)
      if (u.client == client) orphans.push_back(tag);
    for (const auto tag : orphans) flying.erase(tag);
    show_reapable();
  }
  for (const auto tag : orphans)
    if (gadget) gadget->discard(tag);
  changed.notify_all();
}

void MockDevice::Impl::pull() {
  {
    const std::lock_guard lock(mutex);
    gone = true;
  }
  if (gadget) gadget->fail_all(-ESHUTDOWN);
}

gboolean MockDevice::Impl::on_ioctl(UMockdevIoctlClient* client) {
  const auto request = umockdev_ioctl_client_get_request(client);
  {
    const std::lock_guard lock(mutex);
    if (held_request != 0 && request == held_request) {
      g_object_ref(client);
      held.push_back(client);
      changed.notify_all();
      return TRUE;
    }
  }
  auto* arg = read_as<void*>(umockdev_ioctl_client_get_arg(client)->data);
  const auto a = answer(client, request, arg);
  umockdev_ioctl_client_complete(client, a.result, a.error);
  return TRUE;
}

MockDevice::Impl::Answer MockDevice::Impl::answer(UMockdevIoctlClient* client, unsigned long request,
                                                  void* arg) {
  const auto in_arg = [&] { return (read_as<unsigned>(arg) & 0x80u) != 0; };
  {
    const std::lock_guard lock(mutex);
    if (request == USBDEVFS_REAPURBNDELAY || request == USBDEVFS_REAPURB)
      return reap(client, static_cast<void**>(arg));
    if (gone) return {-1, ENODEV};
    if (request == USBDEVFS_GET_CAPABILITIES) {
      const std::uint32_t all =
          USBDEVFS_CAP_BULK_CONTINUATION | USBDEVFS_CAP_REAP_AFTER_DISCONNECT | USBDEVFS_CAP_ZERO_PACKET |
          (spec.one_urb ? USBDEVFS_CAP_NO_PACKET_SIZE_LIM | USBDEVFS_CAP_BULK_SCATTER_GATHER : 0);
      std::memcpy(arg, &all, sizeof all);
      return {};
    }
    if (request == USBDEVFS_CLAIMINTERFACE || request == USBDEVFS_DISCONNECT_CLAIM)
      return claim(client, read_as<unsigned>(arg));  // the number comes first in both
    if (request == USBDEVFS_RELEASEINTERFACE) {
      std::erase_if(claims, [&](const auto& c) { return c.second == client; });
      return {};
    }
    if (request == USBDEVFS_GETDRIVER) return {-1, ENODATA};
  }
  if (request == USBDEVFS_SUBMITURB) return submit(client, static_cast<usbdevfs_urb*>(arg));
  if (request == USBDEVFS_DISCARDURB) return discard(static_cast<usbdevfs_urb*>(arg));
  if (request == USBDEVFS_CLEAR_HALT || request == USBDEVFS_RESETEP) {
    if (gadget) gadget->clear_halt(in_arg());
    return {};
  }
  return {-1, ENOTTY};
}

MockDevice::Impl::Answer MockDevice::Impl::claim(UMockdevIoctlClient* client, unsigned number) {
  const auto [at, fresh] = claims.emplace(number, client);
  if (!fresh && at->second != client) return {-1, EBUSY};
  return {};
}

MockDevice::Impl::Answer MockDevice::Impl::submit(UMockdevIoctlClient* client, usbdevfs_urb* urb) {
  {
    const std::lock_guard lock(mutex);
    if (asleep) return {-1, EHOSTUNREACH};
    if (urb->type == USBDEVFS_URB_TYPE_CONTROL) {
      control(urb);
      make_reapable(Urb{client, urb});
      return {};
    }
    flying[tag_of(urb)] = Urb{client, urb};
  }
  if (!gadget) return {};
  const auto size = static_cast<std::size_t>(urb->buffer_length);
  if ((urb->endpoint & 0x80u) != 0) {
    gadget->submit_in(tag_of(urb), size);
  } else {
    const auto* from = static_cast<const std::uint8_t*>(urb->buffer);
    gadget->submit_out(tag_of(urb), Bytes(from, from + size));
  }
  return {};
}

MockDevice::Impl::Answer MockDevice::Impl::reap(UMockdevIoctlClient* client, void** into) {
  const auto at =
      std::find_if(reapable.begin(), reapable.end(), [&](const Urb& u) { return u.client == client; });
  if (at == reapable.end()) return {-1, gone ? ENODEV : EAGAIN};
  *into = at->urb;
  reapable.erase(at);
  show_reapable();
  return {};
}

MockDevice::Impl::Answer MockDevice::Impl::discard(usbdevfs_urb* urb) {
  if (gadget) return gadget->discard(tag_of(urb)) ? Answer{} : Answer{-1, EINVAL};
  Finished f;
  f.tag = tag_of(urb), f.status = -ENOENT;
  on_finished(std::move(f));
  return {};
}

/// GET_DESCRIPTOR of a string (USB 2.0 section 9.6.7): 0 the languages, else the serial number.
void MockDevice::Impl::control(usbdevfs_urb* urb) const {
  auto* bytes = static_cast<std::uint8_t*>(urb->buffer);
  urb->status = -EPIPE;
  urb->actual_length = 0;
  if (urb->buffer_length < 8 || bytes[0] != 0x80 || bytes[1] != 0x06 || bytes[3] != 0x03) return;
  Bytes text = {0, 0x03};
  if (bytes[2] == 0)
    text.insert(text.end(), {0x09, 0x04});
  else
    for (const char c : spec.serial) text.insert(text.end(), {static_cast<std::uint8_t>(c), 0});
  text[0] = static_cast<std::uint8_t>(text.size());
  const auto n = std::min(text.size(), static_cast<std::size_t>(urb->buffer_length) - 8);
  std::copy_n(text.begin(), n, bytes + 8);
  urb->status = 0;
  urb->actual_length = static_cast<int>(n);
}
}  // namespace hb::test
