#include "harness/link/detail/usb_pipe.hpp"
#include "harness/link/detail/usb_transport.hpp"
#include "harness/link/link.hpp"

namespace hb::link {
net::awaitable<Result<std::unique_ptr<Transport>>> connect_usb(std::optional<std::string> serial,
                                                               net::milliseconds) {
  const auto executor = co_await net::asio::this_coro::executor;
  auto pipe = detail::open_usb_pipe(serial);
  if (!pipe) co_return pipe.error();
  auto transport = detail::usb_transport(executor, std::move(*pipe));
  co_return Result<std::unique_ptr<Transport>>(std::move(transport));
}
}  // namespace hb::link
