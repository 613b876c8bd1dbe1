#include "harness/link/detail/usb_pipe.hpp"

#include <mutex>
#include <set>
#include <thread>

#include "harness/link/detail/usb_device.hpp"

namespace hb::link::detail {
namespace {
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
  bool reset() override {
    return libusb_reset_device(handle_.get()) == 0 &&
           (where_.alternate == 0 ||
            libusb_set_interface_alt_setting(handle_.get(), where_.number, where_.alternate) == 0);
  }
  void cancel(Way way) noexcept override {
    const std::lock_guard lock(mutex_);
    for (auto* p : pending_)
      if (p->in == (way == Way::in)) libusb_cancel_transfer(p->transfer);
  }
  /// Claiming what is claimed only looks whether the device is attached.
  bool gone() const noexcept override {
    return libusb_claim_interface(handle_.get(), where_.number) == LIBUSB_ERROR_NO_DEVICE;
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
}  // namespace

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

Result<std::unique_ptr<UsbPipe>> open_usb_pipe(const UsbWanted& wanted) {
  auto context = make_context();
  if (!context) return context.error();
  auto why = usb_error(LIBUSB_ERROR_NOT_FOUND);
  {
    const auto found = candidates(context->get());
    for (const auto& c : found) {
      if (wanted.place && *wanted.place != c.place) continue;
      auto handle = claim(c, wanted.serial);
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
