// Checks that wait side by side: a stepped clock moves once for both, and always in the same order.
#include "harness/run/lanes.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace hb::run {
namespace {
namespace asio = net::asio;
using net::milliseconds;

/// Moves by waiting only, like a fixture's; each wait takes its time to be answered.
class Stepped final : public net::Clock {
 public:
  net::BenchTime now() const override { return now_; }
  net::awaitable<Result<void>> wait(milliseconds d) override {
    EXPECT_FALSE(asked_) << "two checks move the time at once";
    asked_ = true;
    const auto answered = co_await net::pause(milliseconds(1));
    asked_ = false;
    if (!answered) co_return answered.error();
    now_ += d;
    co_return Result<void>{};
  }
  Term kind() const override { return "stepped"; }
  bool moved_by_waiting() const override { return true; }

 private:
  net::BenchTime now_{0};
  bool asked_ = false;
};

struct Bench {
  net::io_context io;
  std::shared_ptr<Stepped> base = std::make_shared<Stepped>();
  Lanes lanes{io.get_executor(), base};
  std::vector<std::string> seen;

  /// Acts `times` times, `each` apart; between two waits it does something slow on the wire.
  net::awaitable<void> check(std::unique_ptr<net::Clock> clock, std::string name, int times,
                             milliseconds each) {
    co_await asio::this_coro::throw_if_cancelled(false);
    for (int i = 0; i <= times; ++i) {
      const auto waited = co_await clock->wait(i == 0 ? milliseconds(0) : each);
      if (!waited) {
        seen.push_back(name + " " + std::string(hb::name(waited.error().code)));
        co_return;
      }
      const auto at = clock->now();
      (void)co_await net::pause(milliseconds(2));
      EXPECT_EQ(clock->now(), at) << "time passed while a check acted";
      seen.push_back(name + "@" + std::to_string(std::chrono::duration_cast<milliseconds>(at).count()));
    }
  }
  void start(std::string name, int times, milliseconds each) {
    net::co_spawn(io, check(lanes.open(), std::move(name), times, each), net::detached);
  }
};

TEST(Lanes, WaitsAreMergedAndTheEarliestComesFirst) {
  Bench b;
  b.start("load", 3, milliseconds(1000));
  b.start("look", 4, milliseconds(400));
  b.io.run();
  const std::vector<std::string> expected{"load@0",    "look@0",    "look@400",  "look@800", "load@1000",
                                          "look@1200", "look@1600", "load@2000", "load@3000"};
  EXPECT_EQ(b.seen, expected);
  EXPECT_EQ(b.base->now(), milliseconds(3000)) << "not the sum of both";
}

TEST(Lanes, ACheckThatEndsLeavesTheTimeToTheOthers) {
  Bench b;
  b.start("a", 1, milliseconds(10));
  b.start("b", 2, milliseconds(30));
  b.start("c", 1, milliseconds(30));
  b.io.run();
  const std::vector<std::string> expected{"a@0", "b@0", "c@0", "a@10", "b@30", "c@30", "b@60"};
  EXPECT_EQ(b.seen, expected);
}

TEST(Lanes, ACancelledWaitHoldsNobodyUp) {
  Bench b;
  asio::cancellation_signal stop;
  net::co_spawn(b.io, b.check(b.lanes.open(), "a", 1, milliseconds(100000)),
                asio::bind_cancellation_slot(stop.slot(), net::detached));
  b.start("b", 2, milliseconds(50));
  net::co_spawn(b.io, b.check(b.lanes.open(), "c", 9, milliseconds(20)),
                [&](std::exception_ptr) { stop.emit(asio::cancellation_type::terminal); });
  b.io.run_for(std::chrono::seconds(20));
  EXPECT_TRUE(b.io.stopped());
  EXPECT_EQ(b.seen.back(), "a cancelled");
  EXPECT_EQ(b.base->now(), milliseconds(180));
}

TEST(Lanes, AClockThatRunsByItselfIsHandedThrough) {
  net::io_context io;
  Lanes lanes(io.get_executor(), std::make_shared<net::WallClock>());
  auto lane = lanes.open();
  EXPECT_FALSE(lane->moved_by_waiting());
  EXPECT_EQ(lane->kind(), Term("wall"));
}
}  // namespace
}  // namespace hb::run
