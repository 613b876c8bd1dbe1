#include "harness/run/lanes.hpp"

#include <algorithm>
#include <list>

namespace hb::run {
namespace asio = net::asio;
using Bell = asio::experimental::channel<void(net::error_code)>;

/// Whose turn it is. A lane's bell rings when it becomes the lane's.
struct Lanes::Turns {
  struct Seat {
    Seat(const asio::any_io_executor& executor, net::BenchTime now) : due(now), bell(executor, 1) {}
    net::BenchTime due;
    bool waits = true, begun = false;
    Bell bell;
  };

  Turns(asio::any_io_executor ex, std::shared_ptr<net::Clock> c)
      : executor(std::move(ex)), base(std::move(c)) {}

  /// Nobody acts: the lane that is due first may; of several, the one that was opened first.
  void pass_on() {
    acting = nullptr;
    Seat* next = nullptr;
    for (auto& s : seats)
      if (s.waits && (next == nullptr || s.due < next->due)) next = &s;
    if (next == nullptr) return;
    acting = next;
    next->bell.try_send(net::error_code{});
  }

  asio::any_io_executor executor;
  std::shared_ptr<net::Clock> base;
  std::list<Seat> seats;
  Seat* acting = nullptr;
};

class Lanes::Lane final : public net::Clock {
 public:
  explicit Lane(std::shared_ptr<Turns> turns)
      : turns_(std::move(turns)), seat_(&turns_->seats.emplace_back(turns_->executor, turns_->base->now())) {}
  ~Lane() override {
    const bool mine = turns_->acting == seat_;
    turns_->seats.remove_if([this](const Turns::Seat& s) { return &s == seat_; });
    if (mine) turns_->pass_on();
  }
  Lane(const Lane&) = delete;
  Lane& operator=(const Lane&) = delete;

  net::BenchTime now() const override { return turns_->base->now(); }
  Term kind() const override { return turns_->base->kind(); }
  bool moved_by_waiting() const override { return turns_->base->moved_by_waiting(); }

  net::awaitable<Result<void>> wait(std::chrono::milliseconds d) override {
    // A cancel that came between two waits must not be lost.
    const auto state = co_await asio::this_coro::cancellation_state;
    const auto stopped = [&state] { return state.cancelled() != asio::cancellation_type::none; };
    const Error cancelled{ErrorCode::cancelled, "stopped while waiting", "", ""};
    auto& t = *turns_;
    if (stopped()) co_return cancelled;
    if (!t.base->moved_by_waiting()) co_return co_await t.base->wait(d);
    if (seat_->begun) {
      seat_->due = now() + d;
      seat_->waits = true;
      if (t.acting == seat_) t.pass_on();
    }
    seat_->begun = true;
    if (t.acting == nullptr) t.pass_on();
    const auto [ec] = co_await seat_->bell.async_receive(net::tuple);
    seat_->waits = false;
    if (ec || stopped()) {
      if (t.acting == seat_) t.pass_on();
      co_return cancelled;
    }
    const auto rest = std::chrono::ceil<std::chrono::milliseconds>(seat_->due - now());
    if (rest.count() > 0) co_return co_await t.base->wait(rest);
    co_return Result<void>{};
  }

 private:
  std::shared_ptr<Turns> turns_;
  Turns::Seat* seat_;
};

Lanes::Lanes(asio::any_io_executor executor, std::shared_ptr<net::Clock> base)
    : turns_(std::make_shared<Turns>(std::move(executor), std::move(base))) {}

std::unique_ptr<net::Clock> Lanes::open() { return std::make_unique<Lane>(turns_); }

}  // namespace hb::run
