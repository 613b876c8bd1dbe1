#include "harness/link/detail/usb_pipe.hpp"

#include <sodium.h>

#include <array>
#include <mutex>
#include <set>
#include <thread>

#include "harness/link/link.hpp"

namespace hb::link::detail {
namespace {
constexpr std::uint8_t kSubclass = 0x42, kProtocol = 0x01;

template <auto Free>
struct Freer {
  template <class T>
  void operator()(T* p) const noexcept {
    Free(p);
  }
};
using Context = std::unique_ptr<libusb_context, Freer<libusb_exit>>;
using Device = std::unique_ptr<libusb_device, Freer<libusb_unref_device>>;
using Handle = std::unique_ptr<libusb_device_handle, Freer<libusb_close>>;
using Config = std::unique_ptr<libusb_config_descriptor, Freer<libusb_free_config_descriptor>>;

Result<Context> make_context() {
  libusb_context* c = nullptr;
  if (libusb_init(&c) == 0) return Context(c);
  return Error{ErrorCode::unsupported, "this computer gives no access to its USB ports", "usb",
               "Check that USB is present and that /dev/bus/usb can be read."};
}

struct Candidate {
  Device device;
  UsbInterface where;
};

std::vector<Candidate> candidates(libusb_context* context) {
  std::vector<Candidate> out;
  libusb_device** list = nullptr;
  const auto n = libusb_get_device_list(context, &list);
  for (ssize_t i = 0; i < n; ++i) {
    libusb_config_descriptor* raw = nullptr;
    if (libusb_get_active_config_descriptor(list[i], &raw) != 0 &&
        libusb_get_config_descriptor(list[i], 0, &raw) != 0)
      continue;
    const Config config(raw);
    if (const auto where = find_debug_interface(*config)) {
      Candidate c;
      c.device.reset(libusb_ref_device(list[i]));
      c.where = *where;
      out.push_back(std::move(c));
    }
  }
  if (n >= 0) libusb_free_device_list(list, 1);
  return out;
}

Result<Handle> open_device(libusb_device* device) {
  libusb_device_handle* h = nullptr;
  if (const int rc = libusb_open(device, &h); rc != 0) return usb_error(rc);
  return Handle(h);
}

/// The serial stays in this function.
bool has_serial(libusb_device* device, libusb_device_handle* handle, const std::string& wanted) {
  libusb_device_descriptor d{};
  if (libusb_get_device_descriptor(device, &d) != 0 || d.iSerialNumber == 0) return false;
  std::array<unsigned char, 256> text{};
  const int n =
      libusb_get_string_descriptor_ascii(handle, d.iSerialNumber, text.data(), static_cast<int>(text.size()));
  const bool same = n > 0 && as_text(ByteView(text.data(), static_cast<std::size_t>(n))) == wanted;
  sodium_memzero(text.data(), text.size());
  return same;
}

/// A context, a claimed interface and the thread that runs its completions.
class LibusbPipe final : public UsbPipe {
 public:
  LibusbPipe(Context context, Handle handle, UsbInterface where)
      : context_(std::move(context)), handle_(std::move(handle)), where_(where), events_([this] { run(); }) {}
  LibusbPipe(const LibusbPipe&) = delete;
  LibusbPipe& operator=(const LibusbPipe&) = delete;
  ~LibusbPipe() override {
    {
      const std::lock_guard lock(mutex_);
      closing_ = true;
      for (auto* p : pending_) libusb_cancel_transfer(p->transfer);
    }
    libusb_interrupt_event_handler(context_.get());
    events_.join();
    libusb_release_interface(handle_.get(), where_.number);
  }

  void read(std::size_t size, Callback done) override { submit(where_.in, Bytes(size), std::move(done)); }
  void write(Bytes data, Callback done) override { submit(where_.out, std::move(data), std::move(done)); }
  bool clear_stall(Way way) override {
    return libusb_clear_halt(handle_.get(), way == Way::in ? where_.in : where_.out) == 0;
  }
  void cancel(Way way) noexcept override {
    const std::lock_guard lock(mutex_);
    for (auto* p : pending_)
      if (p->in == (way == Way::in)) libusb_cancel_transfer(p->transfer);
  }
  std::size_t max_packet(Way way) const noexcept override {
    return way == Way::in ? where_.max_packet_in : where_.max_packet_out;
  }

 private:
  /// Owned by the library from submission until its callback; freed there and nowhere else.
  struct Pending {
    LibusbPipe* pipe = nullptr;
    libusb_transfer* transfer = nullptr;
    Bytes buffer;
    Callback done;
    bool in = false;
    ~Pending() { libusb_free_transfer(transfer); }
  };

  void submit(std::uint8_t endpoint, Bytes data, Callback done) {
    auto p = std::make_unique<Pending>();
    p->pipe = this;
    p->in = (endpoint & LIBUSB_ENDPOINT_IN) != 0;
    p->buffer = std::move(data);
    p->done = std::move(done);
    p->transfer = libusb_alloc_transfer(0);
    int rc = LIBUSB_ERROR_NO_MEM;
    if (p->transfer != nullptr) {
      libusb_fill_bulk_transfer(p->transfer, handle_.get(), endpoint, p->buffer.data(),
                                static_cast<int>(p->buffer.size()), on_complete, p.get(), 0);
      const std::lock_guard lock(mutex_);
      rc = libusb_submit_transfer(p->transfer);
      if (rc == 0) pending_.insert(p.release());
    }
    if (rc == 0) return;
    UsbDone d;
    d.end = rc == LIBUSB_ERROR_NO_DEVICE ? UsbEnd::gone : UsbEnd::failed;
    d.data = p->in ? Bytes{} : std::move(p->buffer);
    p->done(std::move(d));
  }

  static void LIBUSB_CALL on_complete(libusb_transfer* t) {
    const std::unique_ptr<Pending> p(static_cast<Pending*>(t->user_data));
    UsbDone d;
    d.end = usb_end(t->status);
    d.moved = static_cast<std::size_t>(t->actual_length);
    d.data = std::move(p->buffer);
    if (p->in) d.data.resize(d.moved);
    {
      const std::lock_guard lock(p->pipe->mutex_);
      p->pipe->pending_.erase(p.get());
    }
    p->done(std::move(d));
  }

  bool idle_and_closing() {
    const std::lock_guard lock(mutex_);
    return closing_ && pending_.empty();
  }
  void run() {
    while (!idle_and_closing()) {
      timeval limit{1, 0};
      libusb_handle_events_timeout_completed(context_.get(), &limit, nullptr);
    }
  }

  Context context_;
  Handle handle_;
  UsbInterface where_;
  std::mutex mutex_;
  std::set<Pending*> pending_;
  bool closing_ = false;
  std::thread events_;  ///< last: starts when all else stands
};

Result<Handle> claim(const Candidate& c, const std::optional<std::string>& serial) {
  auto handle = open_device(c.device.get());
  if (!handle) return handle.error();
  if (serial && !has_serial(c.device.get(), handle->get(), *serial)) return usb_error(LIBUSB_ERROR_NOT_FOUND);
  libusb_set_auto_detach_kernel_driver(handle->get(), 1);
  int rc = libusb_claim_interface(handle->get(), c.where.number);
  if (rc == 0 && c.where.alternate != 0)
    rc = libusb_set_interface_alt_setting(handle->get(), c.where.number, c.where.alternate);
  if (rc != 0) return usb_error(rc);
  for (const auto endpoint : {c.where.in, c.where.out})  // a former user may have left the data toggle odd
    static_cast<void>(libusb_clear_halt(handle->get(), endpoint));
  return handle;
}
}  // namespace

std::optional<UsbInterface> find_debug_interface(const libusb_config_descriptor& config) {
  for (int i = 0; i < config.bNumInterfaces; ++i) {
    const auto& all = config.interface[i];
    for (int a = 0; a < all.num_altsetting; ++a) {
      const auto& d = all.altsetting[a];
      if (d.bInterfaceClass != LIBUSB_CLASS_VENDOR_SPEC || d.bInterfaceSubClass != kSubclass ||
          d.bInterfaceProtocol != kProtocol)
        continue;
      UsbInterface found;
      found.number = d.bInterfaceNumber;
      found.alternate = d.bAlternateSetting;
      for (int e = 0; e < d.bNumEndpoints; ++e) {
        const auto& end = d.endpoint[e];
        if ((end.bmAttributes & LIBUSB_TRANSFER_TYPE_MASK) != LIBUSB_TRANSFER_TYPE_BULK) continue;
        const bool in = (end.bEndpointAddress & LIBUSB_ENDPOINT_DIR_MASK) != 0;
        (in ? found.in : found.out) = end.bEndpointAddress;
        (in ? found.max_packet_in : found.max_packet_out) = end.wMaxPacketSize & 0x7ffu;
      }
      if (found.max_packet_in > 0 && found.max_packet_out > 0) return found;
    }
  }
  return std::nullopt;
}

Error usb_error(int code) {
  switch (code) {
    case LIBUSB_ERROR_ACCESS:
      return Error{
          ErrorCode::refused, "this user may not open the phone's USB interface", "usb",
          "Add a udev rule: SUBSYSTEM==\"usb\", ENV{ID_USB_INTERFACES}==\"*:ff4201:*\", TAG+=\"uaccess\" "
          "(file /etc/udev/rules.d/70-handback.rules); then run udevadm control --reload and plug in again."};
    case LIBUSB_ERROR_BUSY:
      return Error{ErrorCode::refused, "another debug-link server on this computer holds the phone", "usb",
                   "Stop it (adb kill-server, or quit the program that started it) and try again."};
    case LIBUSB_ERROR_NO_DEVICE:
      return Error{ErrorCode::link_lost, "the phone was unplugged", "usb", "Plug the cable in again."};
    case LIBUSB_ERROR_NOT_FOUND:
      return Error{ErrorCode::not_found, "no phone with USB debugging is plugged in", "usb",
                   "Plug the phone in with a data cable and turn USB debugging on."};
    default:
      return Error{ErrorCode::io, std::string("USB: ") + libusb_strerror(code), "usb",
                   "Unplug the cable, plug it in again; try another cable or port."};
  }
}

UsbEnd usb_end(libusb_transfer_status status) noexcept {
  switch (status) {
    case LIBUSB_TRANSFER_COMPLETED:
      return UsbEnd::done;
    case LIBUSB_TRANSFER_STALL:
      return UsbEnd::stalled;
    case LIBUSB_TRANSFER_CANCELLED:
      return UsbEnd::cancelled;
    case LIBUSB_TRANSFER_NO_DEVICE:
      return UsbEnd::gone;
    default:
      return UsbEnd::failed;
  }
}

Result<std::unique_ptr<UsbPipe>> open_usb_pipe(const std::optional<std::string>& serial) {
  auto context = make_context();
  if (!context) return context.error();
  auto why = usb_error(LIBUSB_ERROR_NOT_FOUND);
  {
    const auto found = candidates(context->get());
    for (const auto& c : found) {
      auto handle = claim(c, serial);
      if (handle) {
        std::unique_ptr<UsbPipe> pipe =
            std::make_unique<LibusbPipe>(std::move(*context), std::move(*handle), c.where);
        return pipe;
      }
      if (handle.error().code != ErrorCode::not_found) why = handle.error();
    }
  }
  return why;
}
}  // namespace hb::link::detail

namespace hb::link {
Result<UsbCount> list_usb() {
  auto context = detail::make_context();
  if (!context) return context.error();
  UsbCount out;
  const auto found = detail::candidates(context->get());
  for (const auto& c : found) {
    ++out.phones;
    if (detail::open_device(c.device.get())) ++out.accessible;
  }
  return out;
}
}  // namespace hb::link
