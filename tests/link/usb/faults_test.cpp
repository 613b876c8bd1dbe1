// What goes wrong on a cable: pulled, stalled, asleep, held by another program, not allowed.
#include <sys/fsuid.h>
#include <unistd.h>

#include <thread>

#include "phone_on_usb.hpp"

namespace hb::test {
namespace {
class UsbCable : public OnUsb {
 protected:
  /// Pulls the cable once `holds`, while `work` runs.
  template <class T>
  T pull_during(MockDevice& device, std::function<bool(const Gadget::Counters&)> holds,
                net::awaitable<T> work) {
    std::thread hand([&] {
      EXPECT_TRUE(device.gadget().wait_for(holds));
      bus.unplug(7);
    });
    auto result = run(io, std::move(work));
    hand.join();
    return result;
  }
  void expect_pulled(const Error& e, const link::Link& l) {
    EXPECT_EQ(e.code, ErrorCode::link_lost);
    EXPECT_NE(e.what.find("unplugged"), std::string::npos) << e.message();
    EXPECT_FALSE(l.alive());
    EXPECT_EQ(phones_on_bus(), 0u);
  }
  void expect_works_after_replug() {
    auto spec = phone_spec();
    spec.address = 9;  // the kernel numbers it anew
    plug_in(spec);
    const auto l = open();
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(shell(**l, "echo back")->out, "back\n");
  }
};

TEST_F(UsbCable, PulledWhileThePhoneSends) {
  auto& device = plug_in();
  const auto l = open().value();
  device.gadget().hold_after(true, 400'000);
  const auto waits = run(io, l->open_stream("shell:never", 5s)).value();
  const auto out = pull_during(
      device, [](const auto& c) { return c.bytes_in > 300'000; }, l->shell("big 2000000", 1h, 4u << 20));
  ASSERT_FALSE(out);
  expect_pulled(out.error(), *l);
  EXPECT_FALSE(run(io, waits->read(1h))) << "whatever else waited has ended too";
  expect_works_after_replug();
}

TEST_F(UsbCable, PulledWhileTheBenchSends) {
  auto& device = plug_in();
  const auto l = open().value();
  device.gadget().hold_after(false, 400'000);
  const auto out = pull_during(
      device, [](const auto& c) { return c.bytes_out > 300'000; },
      push(l, "/data/local/tmp/file", pattern(2'000'000)));
  ASSERT_FALSE(out);
  expect_pulled(out.error(), *l);
  expect_works_after_replug();
}

TEST_F(UsbCable, PulledWhileNothingHappens) {
  auto& device = plug_in();
  const auto l = open().value();
  const auto s = run(io, l->open_stream("shell:never", 5s)).value();
  const auto got = pull_during(
      device, [](const auto&) { return true; }, s->read(1h));
  ASSERT_FALSE(got);
  expect_pulled(got.error(), *l);
  expect_works_after_replug();
}

TEST_F(UsbCable, PulledIsAnErrorOfTheWireBeforeTheHubTellsOfIt) {
  for (const bool in : {true, false}) {
    auto& device = plug_in();
    const auto l = open().value();
    device.gadget().hold_after(in, 100'000);
    std::thread hand([&] {
      EXPECT_TRUE(
          device.gadget().wait_for([&](const auto& c) { return (in ? c.bytes_in : c.bytes_out) > 90'000; }));
      device.gadget().fail_all(-EPROTO);
      bus.unplug(7);
    });
    const auto out = in ? shell(*l, "big 1000000").error()
                        : run(io, push(l, "/data/local/tmp/file", pattern(1'000'000))).error();
    hand.join();
    expect_pulled(out, *l);
  }
  expect_works_after_replug();
}

TEST_F(UsbCable, ErrorOfTheWireWithThePhoneStillThereIsNotCalledUnplugged) {
  auto& device = plug_in();
  const auto l = open().value();
  device.gadget().fail_all(-EPROTO);
  const auto out = shell(*l, "echo here");
  ASSERT_FALSE(out);
  EXPECT_EQ(out.error().code, ErrorCode::link_lost);
  EXPECT_EQ(out.error().what.find("unplugged"), std::string::npos) << out.error().message();
  EXPECT_FALSE(l->alive());
}

TEST_F(UsbCable, BenchThatEndsWithinAPacketIsFollowedByOneThatWorks) {
  auto& device = plug_in();
  {
    const auto l = open().value();
    device.gadget().hold_after(false, 100'000);
    std::thread hand([&] {
      EXPECT_TRUE(device.gadget().wait_for([](const auto& c) { return c.bytes_out > 90'000; }));
      net::asio::post(io, [&] { l->close(); });
    });
    EXPECT_FALSE(run(io, push(l, "/data/local/tmp/file", pattern(1'000'000))));
    hand.join();
  }
  device.gadget().release(false);
  ASSERT_GT(device.gadget().counters().left, 0u) << "the phone waits for the rest";
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_EQ(shell(**l, "echo here")->out, "here\n");
  EXPECT_EQ(device.gadget().counters().resets, 1);
}

TEST_F(UsbCable, StallInTheMiddleIsClearedAndLosesNoByte) {
  const auto text = pattern(1u << 20);
  for (const std::size_t at : {0u, 512u, 100'000u, 300'000u, 1'000'000u}) {
    auto& device = plug_in();
    const auto l = open().value();
    device.gadget().stall_after(true, at);
    const auto in = shell(*l, "big 1048576");
    ASSERT_TRUE(in) << at << ": " << in.error().message();
    EXPECT_EQ(in->out == text, true) << at;
    device.gadget().stall_after(false, at);
    const auto answer = run(io, push(l, "/data/local/tmp/file", text));
    ASSERT_TRUE(answer) << at << ": " << answer.error().message();
    phone.with([&](FakeServices& s) { EXPECT_EQ(s.files["/data/local/tmp/file"] == text, true) << at; });
    EXPECT_EQ(device.gadget().counters().halts_cleared, 2) << at;
    EXPECT_EQ(device.gadget().counters().complaint, "") << at;
    l->close();
    bus.unplug(7);
  }
}

TEST_F(UsbCable, EndpointThatStaysStalledIsALostLink) {
  for (const bool in : {true, false}) {
    auto& device = plug_in();
    const auto l = open().value();
    device.gadget().stall_after(in, 5000, 1000);
    const auto out = in ? shell(*l, "big 100000").error()
                        : run(io, push(l, "/data/local/tmp/file", pattern(100'000))).error();
    EXPECT_EQ(out.code, ErrorCode::link_lost) << out.message();
    EXPECT_FALSE(l->alive());
    bus.unplug(7);
  }
}

TEST_F(UsbCable, ComputerThatPutsThePortToSleepLosesTheLinkAndFindsThePhoneAgain) {
  auto& device = plug_in();
  auto l = open().value();
  device.suspend();
  const auto out = shell(*l, "echo asleep");
  ASSERT_FALSE(out);
  EXPECT_EQ(out.error().code, ErrorCode::link_lost) << out.error().message();
  device.resume();
  l = open().value();
  EXPECT_EQ(shell(*l, "echo awake")->out, "awake\n");
}

using UsbAccess = OnUsb;

TEST_F(UsbAccess, AnotherProgramHoldsThePhone) {
  plug_in();
  const auto first = open().value();
  const auto second = open();
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().code, ErrorCode::refused);
  EXPECT_NE(second.error().message().find("another debug-link server"), std::string::npos);
  EXPECT_NE(second.error().next.find("kill-server"), std::string::npos) << second.error().message();
  EXPECT_EQ(shell(*first, "echo mine")->out, "mine\n") << "and is not disturbed";
}

/// File access as somebody without rights, on this thread, also where the tests run as root.
class WithoutRights {
 public:
  WithoutRights() : before_(::setfsuid(65534)) {}
  WithoutRights(const WithoutRights&) = delete;
  WithoutRights& operator=(const WithoutRights&) = delete;
  ~WithoutRights() { ::setfsuid(static_cast<uid_t>(before_)); }

 private:
  int before_;
};

TEST_F(UsbAccess, PermissionIsMissing) {
  plug_in();
  bus.forbid(7);
  const WithoutRights nobody;
  EXPECT_EQ(phones_on_bus(), 1u);
  EXPECT_EQ(link::probe_usb(link::UsbPlace{"1-3", 7}), link::UsbAccess::denied);
  const auto l = open();
  ASSERT_FALSE(l);
  EXPECT_EQ(l.error().code, ErrorCode::refused) << l.error().message();
  EXPECT_NE(l.error().next.find("udev rule"), std::string::npos) << l.error().message();
}
}  // namespace
}  // namespace hb::test
