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
/// The bytes that `from` points at; none for a null pointer.
UMockdevIoctlData* follow(UMockdevIoctlData* from, std::size_t offset, std::size_t size) {
  return umockdev_ioctl_data_resolve(from, offset, size, nullptr);
}
template <class T>
T follow_and_read(UMockdevIoctlData* from) {
  auto* d = follow(from, 0, sizeof(T));
  T v{};
  if (d != nullptr) v = read_as<T>(d->data);
  if (d != nullptr) g_object_unref(d);
  return v;
}
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
    gadget = std::make_unique<Gadget>(daemon_port, [this](TransferEnd f) { on_finished(std::move(f)); });
}

void MockDevice::Impl::Urb::drop() const {
  if (buffer != nullptr) g_object_unref(buffer);
  g_object_unref(urb);
}

MockDevice::Impl::~Impl() {
  gadget.reset();
  for (const auto& u : reapable) u.drop();
  for (const auto& [tag, u] : flying) u.drop();
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
  reapable.push_back(std::move(u));
  show_reapable();
}

void MockDevice::Impl::on_finished(TransferEnd f) {
  const std::lock_guard lock(mutex);
  const auto at = flying.find(f.tag);
  if (at == flying.end()) return;
  Urb u = at->second;
  flying.erase(at);
  u.end = std::move(f);
  make_reapable(std::move(u));
}

void MockDevice::Impl::on_close(UMockdevIoctlClient* client) {
  std::vector<std::uint64_t> orphans;
  {
    const std::lock_guard lock(mutex);
    openers.erase(client);
    std::erase_if(claims, [&](const auto& c) { return c.second == client; });
    std::erase_if(reapable, [&](const Urb& u) {
      if (u.client == client) u.drop();
      return u.client == client;
    });
    for (const auto& [tag, u] : flying)
      if (u.client == client) orphans.push_back(tag), u.drop();
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
  const auto a = answer(client, request, umockdev_ioctl_client_get_arg(client));
  umockdev_ioctl_client_complete(client, a.result, a.error);
  return TRUE;
}

MockDevice::Impl::Answer MockDevice::Impl::answer(UMockdevIoctlClient* client, unsigned long request,
                                                  UMockdevIoctlData* arg) {
  {
    const std::lock_guard lock(mutex);
    if (request == USBDEVFS_REAPURBNDELAY || request == USBDEVFS_REAPURB) return reap(client, arg);
    if (gone) return {-1, ENODEV};
    if (request == USBDEVFS_GET_CAPABILITIES) {
      const std::uint32_t whole = USBDEVFS_CAP_NO_PACKET_SIZE_LIM | USBDEVFS_CAP_BULK_SCATTER_GATHER;
      const std::uint32_t all = USBDEVFS_CAP_BULK_CONTINUATION | USBDEVFS_CAP_REAP_AFTER_DISCONNECT |
                                USBDEVFS_CAP_ZERO_PACKET | (spec.one_urb ? whole : 0);
      auto* d = follow(arg, 0, sizeof all);
      std::memcpy(d->data, &all, sizeof all);
      g_object_unref(d);
      return {};
    }
    if (request == USBDEVFS_CLAIMINTERFACE || request == USBDEVFS_DISCONNECT_CLAIM)
      return claim(client, follow_and_read<unsigned>(arg));  // the number comes first in both
    if (request == USBDEVFS_RELEASEINTERFACE) {
      std::erase_if(claims, [&](const auto& c) { return c.second == client; });
      return {};
    }
    if (request == USBDEVFS_GETDRIVER) return {-1, ENODATA};
  }
  if (request == USBDEVFS_SUBMITURB) return submit(client, arg);
  if (request == USBDEVFS_DISCARDURB) return discard(client, read_as<std::uintptr_t>(arg->data));
  if (request == USBDEVFS_CLEAR_HALT || request == USBDEVFS_RESETEP) {
    const bool in = (follow_and_read<unsigned>(arg) & 0x80u) != 0;
    if (gadget) gadget->clear_halt(in);
    return {};
  }
  if (request == USBDEVFS_RESET) {
    if (gadget) gadget->reset();
    return {};
  }
  return {-1, ENOTTY};
}

MockDevice::Impl::Answer MockDevice::Impl::claim(UMockdevIoctlClient* client, unsigned number) {
  const auto [at, fresh] = claims.emplace(number, client);
  if (!fresh && at->second != client) return {-1, EBUSY};
  return {};
}

MockDevice::Impl::Answer MockDevice::Impl::submit(UMockdevIoctlClient* client, UMockdevIoctlData* arg) {
  Urb u;
  u.client = client;
  u.urb = follow(arg, 0, sizeof(usbdevfs_urb));
  const auto urb = read_as<usbdevfs_urb>(u.urb->data);
  const auto size = static_cast<std::size_t>(urb.buffer_length);
  u.buffer = follow(u.urb, offsetof(usbdevfs_urb, buffer), size);
  const auto* from = u.buffer != nullptr ? u.buffer->data : nullptr;
  std::uint64_t tag = 0;
  {
    const std::lock_guard lock(mutex);
    if (asleep) {
      u.drop();
      return {-1, EHOSTUNREACH};
    }
    if (urb.type == USBDEVFS_URB_TYPE_CONTROL) {
      u.end = control(ByteView(from, size));
      make_reapable(std::move(u));
      return {};
    }
    tag = ++last_tag;
    flying[tag] = u;
  }
  if (!gadget) return {};
  if ((urb.endpoint & 0x80u) != 0)
    gadget->submit_in(tag, size);
  else
    gadget->submit_out(tag, from == nullptr ? Bytes{} : Bytes(from, from + size));
  return {};
}

MockDevice::Impl::Answer MockDevice::Impl::reap(UMockdevIoctlClient* client, UMockdevIoctlData* arg) {
  const auto at =
      std::find_if(reapable.begin(), reapable.end(), [&](const Urb& u) { return u.client == client; });
  if (at == reapable.end()) return {-1, gone ? ENODEV : EAGAIN};
  const Urb u = std::move(*at);
  reapable.erase(at);
  show_reapable();
  auto urb = read_as<usbdevfs_urb>(u.urb->data);
  urb.status = u.end.status;
  urb.actual_length = static_cast<int>(u.end.actual);
  if (urb.status == 0 && (urb.flags & USBDEVFS_URB_SHORT_NOT_OK) != 0 &&
      urb.actual_length < urb.buffer_length)
    urb.status = -EREMOTEIO;
  std::memcpy(u.urb->data, &urb, sizeof urb);
  const std::size_t skip = urb.type == USBDEVFS_URB_TYPE_CONTROL ? 8 : 0;
  if (!u.end.data.empty()) std::memcpy(u.buffer->data + skip, u.end.data.data(), u.end.data.size());
  auto* pointer = follow(arg, 0, sizeof(void*));
  umockdev_ioctl_data_set_ptr(pointer, 0, u.urb);
  g_object_unref(pointer);
  u.drop();
  return {};
}

MockDevice::Impl::Answer MockDevice::Impl::discard(UMockdevIoctlClient* client, std::uintptr_t address) {
  std::uint64_t tag = 0;
  {
    const std::lock_guard lock(mutex);
    for (const auto& [t, u] : flying)
      if (u.client == client && u.urb->client_addr == address) tag = t;
  }
  if (tag == 0) return {-1, EINVAL};
  if (gadget) return gadget->discard(tag) ? Answer{} : Answer{-1, EINVAL};
  TransferEnd f;
  f.tag = tag, f.status = -ENOENT;
  on_finished(std::move(f));
  return {};
}

/// GET_DESCRIPTOR of a string (USB 2.0 section 9.6.7): 0 the languages, else the serial number.
TransferEnd MockDevice::Impl::control(ByteView setup) const {
  TransferEnd f;
  f.status = -EPIPE;
  if (setup.size() < 8 || setup[0] != 0x80 || setup[1] != 0x06 || setup[3] != 0x03) return f;
  Bytes text = {0, 0x03};
  if (setup[2] == 0)
    text.insert(text.end(), {0x09, 0x04});
  else
    for (const char c : spec.serial) text.insert(text.end(), {static_cast<std::uint8_t>(c), 0});
  text[0] = static_cast<std::uint8_t>(text.size());
  text.resize(std::min(text.size(), setup.size() - 8));
  f.status = 0;
  f.actual = text.size();
  f.data = std::move(text);
  return f;
}
}  // namespace hb::test
