// Whole links over libusb's Linux back end: what is found, what crosses, how it is cut.
#include <algorithm>
#include <numeric>

#include "phone_on_usb.hpp"

namespace hb::test {
namespace {
using link::LinkOptions;

using FindsOnUsb = OnUsb;
using LinkOnUsb = OnUsb;

DeviceSpec other(int address, std::string port, std::vector<InterfaceSpec> interfaces) {
  DeviceSpec s;
  s.address = address;
  s.port = std::move(port);
  s.interfaces = std::move(interfaces);
  return s;
}

TEST_F(FindsOnUsb, NothingThere) {
  EXPECT_EQ(phones_on_bus(), 0u);
  const auto l = open();
  ASSERT_FALSE(l);
  EXPECT_EQ(l.error().code, ErrorCode::not_found);
}

TEST_F(FindsOnUsb, ThePhoneAmongOtherDevicesAndInterfaces) {
  bus.plug(other(3, "1-1", {{0x03, 0x01, 0x01, {0x81}}}), 0);        // a keyboard
  bus.plug(other(4, "1-2", {{0x08, 0x06, 0x50, {0x81, 0x02}}}), 0);  // a memory stick
  bus.plug(other(5, "1-4", {{0xff, 0x42, 0x03, {0x81, 0x02}}}), 0);  // a phone in its boot loader
  bus.plug(other(6, "1-5",
                 {{
                     0xff,
                     0xff,
                     0x00,
                     {0x81, 0x02},
                 }}),
           0);  // a serial adapter
  auto& device = plug_in();
  EXPECT_EQ(phones_on_bus(), 1u);
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_GT(device.gadget().counters().bytes_out, 24u);
}

TEST_F(FindsOnUsb, OneOfTwoPhonesByItsSerial) {
  PhoneThread second;
  auto& first_device = plug_in();
  auto spec = phone_spec();
  spec.address = 8, spec.port = "1-4", spec.serial = "OTHER";
  auto& second_device = bus.plug(spec, second.port());
  ASSERT_EQ(phones_on_bus(), 2u);
  const auto l = open("OTHER");
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_EQ(first_device.gadget().counters().bytes_out, 0u);
  EXPECT_GT(second_device.gadget().counters().bytes_out, 0u);
  const auto none = open("NOBODY");
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().code, ErrorCode::not_found);
}

TEST_F(LinkOnUsb, FirstTimeTheOwnerIsAskedAndAfterwardsTheKeyIsKnown) {
  auto& device = plug_in();
  int asked = 0;
  LinkOptions o;
  o.on_waiting_for_owner = [&] { ++asked; };
  for (int round = 0; round < 2; ++round) {
    const auto l = open(std::nullopt, o);
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(asked, 1) << "round " << round;
    EXPECT_EQ((*l)->banner().at("ro.product.model"), "VM-P2");
    EXPECT_EQ((*l)->transport_kind(), "usb");
    const auto out = shell(**l, "both");
    ASSERT_TRUE(out) << out.error().message();
    EXPECT_EQ(out->out + out->err, "to out\nto err\n");
    EXPECT_EQ(shell(**l, "exit 3")->exit_code, 3);
  }
  EXPECT_EQ(device.gadget().counters().complaint, "");
}

TEST_F(LinkOnUsb, WhatAFormerConnectionLeftBehindIsDropped) {
  auto& device = plug_in();
  const auto old = packet(link::kWrte, 3, 4, std::string(700, 'x'));
  const Bytes payload(512, 'x'), end(188, 'x');
  device.gadget().leave_behind({Bytes(300, 0x55), link::encode_header(old, link::kVersionSkipChecksum),
                                payload, end,
                                link::encode_header(packet(link::kOkay, 3, 4), link::kVersionSkipChecksum)});
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_EQ(shell(**l, "echo here")->out, "here\n");
}

class Megabyte : public OnUsb, public testing::WithParamInterface<bool> {};
INSTANTIATE_TEST_SUITE_P(, Megabyte, testing::Values(true, false),
                         [](const auto& p) { return p.param ? "InWholeUrbs" : "InPiecesOf16KiB"; });

TEST_P(Megabyte, CrossesBothWaysUnharmed) {
  auto spec = phone_spec();
  spec.one_urb = GetParam();
  auto& device = plug_in(spec);
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  const auto text = pattern(1u << 20);
  const auto in = shell(**l, "big 1048576");
  ASSERT_TRUE(in) << in.error().message();
  EXPECT_EQ(in->out == text, true);
  const auto answer = run(io, push(*l, "/data/local/tmp/file", text));
  ASSERT_TRUE(answer) << answer.error().message();
  EXPECT_EQ(as_text(*answer).substr(0, 4), "OKAY");
  phone.with([&](FakeServices& s) { EXPECT_EQ(s.files["/data/local/tmp/file"] == text, true); });
  const auto c = device.gadget().counters();
  EXPECT_GT(c.bytes_in, text.size());
  EXPECT_GT(c.bytes_out, text.size());
  EXPECT_EQ(c.complaint, "");
}

TEST_F(LinkOnUsb, SeveralTransfersAreUnderWayEachWay) {
  auto& device = plug_in();
  const auto l = open().value();
  device.gadget().hold_after(true, 200'000);
  device.gadget().hold_after(false, 200'000);
  std::thread hand([&] {
    EXPECT_TRUE(device.gadget().wait_for([](const auto& c) { return c.most_waiting_in == 8; }));
    device.gadget().release(true);
    EXPECT_TRUE(device.gadget().wait_for([](const auto& c) { return c.most_waiting_out == 8; }));
    device.gadget().release(false);
  });
  EXPECT_EQ(shell(*l, "big 1048576")->out == pattern(1u << 20), true);
  EXPECT_TRUE(run(io, push(l, "/data/local/tmp/file", pattern(1u << 20))));
  hand.join();
  phone.with([&](FakeServices& s) { EXPECT_EQ(s.files["/data/local/tmp/file"] == pattern(1u << 20), true); });
}

TEST_F(LinkOnUsb, PayloadsAroundWholePacketsEndWithAZeroLengthOneWhereTheyMust) {
  const std::vector<std::size_t> sizes = {0, 1, 511, 512, 513, 16384, 262144};
  auto& device = plug_in();
  const auto l = open().value();
  for (const auto n : sizes) {  // from the phone: as whole packets without an end, or with a short one
    const auto got = run(io, read_to_end(l, "exec:big " + std::to_string(n)));
    ASSERT_TRUE(got) << n << ": " << got.error().message();
    EXPECT_EQ(as_text(*got) == pattern(n), true) << n;
  }
  const auto port = run(
      io, l->reverse(
              0, 7001, [&](std::unique_ptr<link::Stream> s) { return write_each(std::move(s), sizes); }, 5s));
  ASSERT_TRUE(port) << port.error().message();
  const auto before = device.gadget().counters().from_host.size();
  std::string expected;
  for (const auto n : sizes) expected += pattern(n);
  EXPECT_EQ(as_text(run(io, read_on_phone(*port))) == expected, true);

  const auto c = device.gadget().counters();
  EXPECT_EQ(c.complaint, "");
  std::vector<std::size_t> seen;
  for (std::size_t i = 0; i < c.from_host.size(); ++i) {
    const auto& p = c.from_host[i];
    const bool whole = p.announced > 0 && p.announced % kPacket == 0;
    const bool ended = !p.transfers.empty() && p.transfers.back() == 0;
    EXPECT_EQ(ended, whole) << "payload of " << p.announced;
    EXPECT_EQ(std::accumulate(p.transfers.begin(), p.transfers.end(), std::size_t{0}), p.announced);
    if (i >= before && p.announced > 0) seen.push_back(p.announced);
  }
  for (const auto n : sizes)
    EXPECT_TRUE(n == 0 || std::count(seen.begin(), seen.end(), n) > 0) << "no packet of " << n << " left";
}
}  // namespace
}  // namespace hb::test
