// Phones that come and go, and a bus that does not answer.
#include <linux/usbdevice_fs.h>
#include <sys/ioctl.h>

#include "harness/link/detail/usb_watch.hpp"
#include "phone_on_usb.hpp"

namespace hb::test {
namespace {
using link::UsbAccess;
using link::UsbPlace;
using link::UsbWatch;

std::string told(const Result<UsbWatch::Change>& c) {
  if (!c) return std::string(name(c.error().code));
  return (c->arrived ? "+" : "-") + c->place.port + "/" + std::to_string(c->place.address);
}

class WatchOnUsb : public OnUsb, public testing::WithParamInterface<bool> {
 protected:
  std::string next(UsbWatch& w, net::milliseconds deadline = 10s) { return told(run(io, w.next(deadline))); }
};
INSTANTIATE_TEST_SUITE_P(, WatchOnUsb, testing::Values(true, false),
                         [](const auto& p) { return p.param ? "ByNotices" : "ByLooking"; });

TEST_P(WatchOnUsb, TellsOfPhonesThatAreThereComeAndGoAndOfNothingElse) {
  plug_in();
  const auto watch = link::detail::watch_usb(io.get_executor(), GetParam());
  ASSERT_TRUE(watch) << watch.error().message();
  auto& w = **watch;
  EXPECT_EQ(next(w), "+1-3/7");
  EXPECT_EQ(next(w, 0ms), "timed out");
  DeviceSpec keyboard;
  keyboard.address = 8, keyboard.port = "1-1", keyboard.interfaces = {{0x03, 0x01, 0x01, {0x81}}};
  bus.plug(keyboard, 0);
  auto second = phone_spec();
  second.address = 9, second.port = "1-4";
  plug_in(second);
  EXPECT_EQ(next(w), "+1-4/9");
  bus.unplug(8);
  bus.unplug(7);
  EXPECT_EQ(next(w), "-1-3/7");
  auto again = phone_spec();
  again.address = 10;
  plug_in(again);
  EXPECT_EQ(next(w), "+1-3/10");
  bus.unplug(9);
  EXPECT_EQ(next(w), "-1-4/9");
}

TEST_F(OnUsb, PlaceIsConnectedToAndProbed) {
  auto& first = plug_in();
  auto spec = phone_spec();
  spec.address = 9, spec.port = "1-4";
  auto& second = plug_in(spec);
  const UsbPlace here{"1-4", 9};
  EXPECT_EQ(link::probe_usb(here), UsbAccess::free);
  {
    const auto t = run(io, link::connect_usb_at(here, 10s));
    ASSERT_TRUE(t) << t.error().message();
    EXPECT_EQ(link::probe_usb(here), UsbAccess::busy);
    EXPECT_TRUE(second.wait_for_openers(1));
    EXPECT_TRUE(first.wait_for_openers(0));
  }
  EXPECT_EQ(link::probe_usb(here), UsbAccess::free);
  EXPECT_EQ(link::probe_usb(UsbPlace{"1-4", 8}), UsbAccess::gone);
  bus.unplug(9);
  EXPECT_EQ(link::probe_usb(here), UsbAccess::gone);
}

TEST_F(OnUsb, BusThatDoesNotAnswerIsLeftAtTheDeadlineAndClosedLater) {
  auto& device = plug_in();
  device.hold_calls(USBDEVFS_DISCONNECT_CLAIM);
  const auto t = run(io, link::connect_usb(std::nullopt, 300ms));
  ASSERT_FALSE(t);
  EXPECT_EQ(t.error().code, ErrorCode::timed_out) << t.error().message();
  EXPECT_TRUE(device.wait_for_held_call());
  device.release_calls();
  EXPECT_TRUE(device.wait_for_openers(0)) << "what was begun ends by itself";
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_EQ(shell(**l, "echo well")->out, "well\n");
}
}  // namespace
}  // namespace hb::test
