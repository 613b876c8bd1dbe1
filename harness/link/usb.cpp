#include <mutex>
#include <thread>

#include "harness/link/detail/signal.hpp"
#include "harness/link/detail/usb_device.hpp"
#include "harness/link/detail/usb_pipe.hpp"
#include "harness/link/detail/usb_transport.hpp"
#include "harness/link/link.hpp"
#include "harness/link/usb_list.hpp"

namespace hb::link {
namespace {
using detail::UsbPipe;
using Opened = Result<std::unique_ptr<UsbPipe>>;

/// One attempt to open. Calls into the system cannot be stopped, so they run on a thread of their own, which
/// the caller leaves behind at the deadline; what it then still opens, it closes.
struct Attempt {
  explicit Attempt(const net::asio::any_io_executor& executor) : done(executor) {}
  Attempt(const Attempt&) = delete;
  Attempt& operator=(const Attempt&) = delete;
  ~Attempt() {
    const std::lock_guard lock(gate->mutex);
    gate->open = false;
  }
  struct Gate {
    std::mutex mutex;
    bool open = true;  ///< the attempt, and with it the executor, is there
  };
  std::shared_ptr<Gate> gate = std::make_shared<Gate>();
  detail::Signal done;
  std::optional<Opened> result;
};

void start(const std::shared_ptr<Attempt>& a, net::asio::any_io_executor executor, detail::UsbWanted wanted) {
  std::thread([gate = a->gate, weak = std::weak_ptr(a), executor, wanted = std::move(wanted)] {
    auto opened = detail::open_usb_pipe(wanted);
    const std::lock_guard lock(gate->mutex);
    if (!gate->open) return;
    net::asio::post(executor, [weak, result = std::move(opened)]() mutable {
      if (const auto attempt = weak.lock()) {
        attempt->result = std::move(result);
        attempt->done.notify();
      }
    });
  }).detach();
}

net::awaitable<Result<std::unique_ptr<Transport>>> open(detail::UsbWanted wanted,
                                                        net::milliseconds deadline) {
  const auto executor = co_await net::asio::this_coro::executor;
  const auto until = detail::deadline_in(deadline);
  const auto a = std::make_shared<Attempt>(executor);
  start(a, executor, std::move(wanted));
  while (!a->result) {
    if (detail::passed(until))
      co_return Error{ErrorCode::timed_out, "the computer's USB did not answer", "usb",
                      "Unplug the cable, plug it in again; try another port."};
    const auto waited = co_await a->done.wait_until(until);
    if (!waited) co_return waited.error();
  }
  if (!*a->result) co_return a->result->error();
  co_return detail::usb_transport(executor, std::move(**a->result));
}
}  // namespace

net::awaitable<Result<std::unique_ptr<Transport>>> connect_usb(std::optional<std::string> serial,
                                                               net::milliseconds deadline) {
  detail::UsbWanted wanted;
  wanted.serial = std::move(serial);
  return open(std::move(wanted), deadline);
}

net::awaitable<Result<std::unique_ptr<Transport>>> connect_usb_at(UsbPlace place,
                                                                  net::milliseconds deadline) {
  detail::UsbWanted wanted;
  wanted.place = std::move(place);
  return open(std::move(wanted), deadline);
}

std::vector<UsbPhone> list_usb() {
  std::vector<UsbPhone> out;
  const auto context = detail::make_context();
  if (!context) return out;
  for (const auto& c : detail::candidates(context->get())) out.push_back({c.place, detail::serial_tail(c)});
  return out;
}

UsbAccess probe_usb(const UsbPlace& place) {
  const auto context = detail::make_context();
  if (!context) return UsbAccess::gone;
  const auto found = detail::candidates(context->get());
  for (const auto& c : found)
    if (c.place == place) return detail::probe(c);
  return UsbAccess::gone;
}
}  // namespace hb::link
