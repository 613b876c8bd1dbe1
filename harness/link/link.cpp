#include "harness/link/link.hpp"

#include "harness/link/detail/core.hpp"
#include "harness/link/detail/reverse.hpp"
#include "harness/link/detail/shell.hpp"

namespace hb::link {
namespace {
using detail::Core;
using detail::deadline_in;

/// The caller's handle. Its member functions are no coroutines: each hands the shared core to one, so that
/// the handle may go while a call waits.
class LiveLink final : public Link {
 public:
  explicit LiveLink(Core::Self core) : core_(std::move(core)) {}
  LiveLink(const LiveLink&) = delete;
  LiveLink& operator=(const LiveLink&) = delete;
  ~LiveLink() override { core_->fail(detail::lost("the link was closed on the bench")); }

  const std::map<std::string, std::string>& banner() const override { return core_->agreed().banner; }
  bool has_feature(std::string_view f) const override { return core_->agreed().features.contains(f); }
  std::string_view transport_kind() const override { return core_->kind(); }
  bool alive() const override { return !core_->failure(); }

  net::awaitable<Result<std::unique_ptr<Stream>>> open_stream(std::string service,
                                                              net::milliseconds deadline) override {
    return Core::open(core_, std::move(service), deadline_in(deadline));
  }
  net::awaitable<Result<ShellOutput>> shell(std::string command, net::milliseconds deadline,
                                            std::size_t max_output) override {
    return detail::run_shell(core_, std::move(command), deadline_in(deadline), max_output);
  }
  net::awaitable<Result<std::unique_ptr<Stream>>> shell_pty(std::string command,
                                                            net::milliseconds deadline) override {
    return detail::open_pty(core_, std::move(command), deadline_in(deadline));
  }
  net::awaitable<Result<std::uint16_t>> reverse(std::uint16_t device_port, std::uint16_t host_port,
                                                Acceptor on_connection, net::milliseconds deadline) override {
    return detail::forward(core_, forwards_, device_port, host_port, std::move(on_connection),
                           deadline_in(deadline));
  }
  net::awaitable<Result<void>> remove_reverse(std::uint16_t device_port,
                                              net::milliseconds deadline) override {
    return detail::unforward(core_, forwards_, device_port, deadline_in(deadline));
  }
  void close() override { core_->fail(detail::lost("the link was closed on the bench")); }

 private:
  Core::Self core_;
  std::shared_ptr<detail::Forwards> forwards_ = std::make_shared<detail::Forwards>();
};
}  // namespace

net::awaitable<Result<std::shared_ptr<Link>>> Link::open(std::unique_ptr<Transport> transport,
                                                         BenchRsaKey key, LinkOptions options) {
  const auto executor = co_await net::asio::this_coro::executor;
  auto core = std::make_shared<Core>(executor, std::move(transport), std::move(key), std::move(options));
  std::shared_ptr<Link> link = std::make_shared<LiveLink>(core);  // closes whatever was begun if this fails
  core->start();
  const auto online = co_await Core::come_online(core);
  if (!online) co_return online.error();
  co_return link;
}
}  // namespace hb::link
