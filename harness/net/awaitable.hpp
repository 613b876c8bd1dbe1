/// The type that waiting functions give, without Asio behind it: enough to declare such a function. Whoever
/// writes or awaits one includes harness/net/asio.hpp.
#pragma once

namespace boost::asio {
class any_io_executor;
template <typename T, typename Executor>
class awaitable;
}  // namespace boost::asio

namespace hb::net {
template <class T>
using awaitable = boost::asio::awaitable<T, boost::asio::any_io_executor>;
}
