#include "harness/link/detail/usb_watch.hpp"

#include <atomic>
#include <deque>
#include <map>
#include <mutex>
#include <thread>

#include "harness/link/detail/signal.hpp"
#include "harness/link/detail/usb_device.hpp"

namespace hb::link::detail {
namespace {
constexpr timeval kLook{0, 500'000};  ///< between two looks where there are no notices

/// What the strand knows; the watching thread posts to it.
struct News {
  explicit News(const net::asio::any_io_executor& ex) : executor(ex), more(ex) {}
  net::asio::any_io_executor executor;
  std::deque<UsbWatch::Change> changes;
  Signal more;
};

net::awaitable<Result<UsbWatch::Change>> next_of(std::shared_ptr<News> n, TimePoint until) {
  while (n->changes.empty()) {
    if (passed(until)) co_return Error{ErrorCode::timed_out, "no phone came or went", "usb", ""};
    const auto waited = co_await n->more.wait_until(until);
    if (!waited) co_return waited.error();
  }
  auto change = std::move(n->changes.front());
  n->changes.pop_front();
  co_return change;
}

class LibusbWatch final : public UsbWatch {
 public:
  LibusbWatch(Context context, const net::asio::any_io_executor& executor, bool notices)
      : context_(std::move(context)), news_(std::make_shared<News>(executor)) {
    notices_ = notices && libusb_has_capability(LIBUSB_CAP_HAS_HOTPLUG) != 0 && ask_for_notices();
    if (!notices_) look();
    for (auto& c : take_changes()) news_->changes.push_back(std::move(c));
    thread_ = std::thread([this] { run(); });
  }
  LibusbWatch(const LibusbWatch&) = delete;
  LibusbWatch& operator=(const LibusbWatch&) = delete;
  ~LibusbWatch() override {
    closing_ = true;
    libusb_interrupt_event_handler(context_.get());
    thread_.join();
    if (notices_) libusb_hotplug_deregister_callback(context_.get(), callback_);
  }
  net::awaitable<Result<Change>> next(net::milliseconds deadline) override {
    return next_of(news_, deadline_in(deadline));
  }

 private:
  struct Notice {
    Device device;
    bool arrived = false;
  };

  bool ask_for_notices() {
    return libusb_hotplug_register_callback(
               context_.get(), LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED | LIBUSB_HOTPLUG_EVENT_DEVICE_LEFT,
               LIBUSB_HOTPLUG_ENUMERATE, LIBUSB_HOTPLUG_MATCH_ANY, LIBUSB_HOTPLUG_MATCH_ANY,
               LIBUSB_HOTPLUG_MATCH_ANY, on_notice, this, &callback_) == LIBUSB_SUCCESS;
  }
  /// Only notes the device: libusb may not be called back from here.
  static int LIBUSB_CALL on_notice(libusb_context*, libusb_device* device, libusb_hotplug_event event,
                                   void* self) {
    Notice n;
    n.device.reset(libusb_ref_device(device));
    n.arrived = event == LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED;
    static_cast<LibusbWatch*>(self)->notices_waiting_.push_back(std::move(n));
    return 0;
  }

  void look() {
    libusb_device** list = nullptr;
    const auto n = libusb_get_device_list(context_.get(), &list);
    std::map<libusb_device*, bool> there;
    for (ssize_t i = 0; i < n; ++i) {
      there[list[i]] = true;
      if (known_.count(list[i]) == 0)
        static_cast<void>(on_notice(nullptr, list[i], LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED, this));
    }
    for (const auto& [device, phone] : known_)
      if (there.count(device) == 0)
        static_cast<void>(on_notice(nullptr, device, LIBUSB_HOTPLUG_EVENT_DEVICE_LEFT, this));
    if (n >= 0) libusb_free_device_list(list, 1);
  }

  /// What the notices mean for phones.
  std::vector<Change> take_changes() {
    std::vector<Change> out;
    for (auto& n : std::exchange(notices_waiting_, {})) {
      const auto at = known_.find(n.device.get());
      if (n.arrived && at == known_.end()) {
        auto phone = as_phone(n.device.get());
        if (phone) out.push_back(Change{true, phone->place});
        auto* key = n.device.get();
        known_.emplace(key, Known{std::move(n.device), phone ? std::optional(phone->place) : std::nullopt});
      } else if (!n.arrived && at != known_.end()) {
        if (at->second.place) out.push_back(Change{false, *at->second.place});
        known_.erase(at);
      }
    }
    return out;
  }

  void run() {
    while (!closing_) {
      timeval limit = kLook;
      libusb_handle_events_timeout_completed(context_.get(), &limit, nullptr);
      if (closing_) return;
      if (!notices_) look();
      auto changes = take_changes();
      if (changes.empty()) continue;
      net::asio::post(news_->executor, [weak = std::weak_ptr(news_), all = std::move(changes)]() mutable {
        const auto n = weak.lock();
        if (!n) return;
        for (auto& c : all) n->changes.push_back(std::move(c));
        n->more.notify();
      });
    }
  }

  struct Known {
    Device device;  ///< kept, so that no other device gets the same address in memory
    std::optional<UsbPlace> place;
  };
  Context context_;
  std::shared_ptr<News> news_;
  std::vector<Notice> notices_waiting_;
  std::map<libusb_device*, Known> known_;
  libusb_hotplug_callback_handle callback_{};
  bool notices_ = false;
  std::atomic<bool> closing_{false};
  std::thread thread_;
};
}  // namespace

Result<std::unique_ptr<UsbWatch>> watch_usb(const net::asio::any_io_executor& executor, bool notices) {
  auto context = make_context();
  if (!context) return context.error();
  std::unique_ptr<UsbWatch> watch = std::make_unique<LibusbWatch>(std::move(*context), executor, notices);
  return watch;
}
}  // namespace hb::link::detail

namespace hb::link {
Result<std::unique_ptr<UsbWatch>> UsbWatch::start(const net::asio::any_io_executor& executor) {
  return detail::watch_usb(executor, true);
}
}  // namespace hb::link
