// Whole links through a kernel's USB: what is found, what crosses, how fast.
#include <numeric>

#include "on_kernel.hpp"

namespace hb::test {
namespace {
using FindsThroughKernel = OnKernel;
using LinkThroughKernel = OnKernel;

TEST_F(FindsThroughKernel, NothingThere) {
  const auto l = open();
  ASSERT_FALSE(l);
  EXPECT_EQ(l.error().code, ErrorCode::not_found);
}

TEST_F(FindsThroughKernel, DebugInterfaceAmongThreeAndThePhoneAmongOtherDevices) {
  DeviceSpec adapter;
  adapter.interfaces = {{0xff, 0xff, 0x00, {0x81, 0x02}}};
  UsbPhone other(1, adapter, 0);
  other.plug();
  EXPECT_FALSE(next(2s)) << "no phone";
  const auto place = plug_in(*device);
  EXPECT_EQ(link::probe_usb(place), link::UsbAccess::free);
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_GT(device->counters().bytes_out, 24u);
  other.unplug();
  EXPECT_FALSE(next(2s));
}

TEST_F(FindsThroughKernel, OneOfTwoPhonesByItsSerial) {
  PhoneThread behind;
  auto spec = phone_spec();
  spec.serial = "OTHER";
  UsbPhone second(1, spec, behind.port());
  plug_in(*device);
  plug_in(second);
  {
    const auto l = open("OTHER");
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(device->counters().bytes_out, 0u);
    EXPECT_GT(second.counters().bytes_out, 0u);
  }
  const auto none = open("NOBODY");
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().code, ErrorCode::not_found);
  pull_out(second);
}

TEST_F(LinkThroughKernel, FirstTimeTheOwnerIsAskedAndAfterwardsTheKeyIsKnown) {
  plug_in(*device);
  int asked = 0;
  link::LinkOptions o;
  o.on_waiting_for_owner = [&] { ++asked; };
  for (int round = 0; round < 2; ++round) {
    const auto l = open(std::nullopt, o);
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(asked, 1) << "round " << round;
    const auto out = shell(**l, "both");
    ASSERT_TRUE(out) << out.error().message();
    EXPECT_EQ(out->out + out->err, "to out\nto err\n");
    EXPECT_EQ(shell(**l, "exit 3")->exit_code, 3);
  }
  EXPECT_EQ(device->counters().complaint, "");
}

double seconds_since(std::chrono::steady_clock::time_point start) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

class Megabytes : public OnKernel, public testing::WithParamInterface<std::size_t> {};
INSTANTIATE_TEST_SUITE_P(, Megabytes, testing::Values(1, 16),
                         [](const auto& p) { return std::to_string(p.param) + "MiB"; });

TEST_P(Megabytes, CrossBothWaysUnharmed) {
  plug_in(*device);
  const auto l = open().value();
  const auto text = pattern(GetParam() << 20);
  auto start = std::chrono::steady_clock::now();
  const auto in = run(io, read_to_end(l, "exec:big " + std::to_string(text.size())));
  const double in_s = seconds_since(start);
  ASSERT_TRUE(in) << in.error().message();
  EXPECT_EQ(as_text(*in) == text, true);
  start = std::chrono::steady_clock::now();
  const auto answer = run(io, push(l, "/data/local/tmp/file", text));
  const double out_s = seconds_since(start);
  ASSERT_TRUE(answer) << answer.error().message();
  EXPECT_EQ(as_text(*answer).substr(0, 4), "OKAY");
  phone.with([&](FakeServices& s) { EXPECT_EQ(s.files["/data/local/tmp/file"] == text, true); });
  const auto c = device->counters();
  EXPECT_GT(c.bytes_in, text.size());
  EXPECT_GT(c.bytes_out, text.size());
  EXPECT_EQ(c.complaint, "");
  const auto mib = static_cast<double>(GetParam());
  std::printf("speed: %zu MiB from the phone %.1f MiB/s, to the phone %.1f MiB/s\n", GetParam(), mib / in_s,
              mib / out_s);
}

TEST_F(LinkThroughKernel, PayloadsAroundWholePacketsEndWithAZeroLengthOneWhereTheyMust) {
  const std::vector<std::size_t> sizes = {0, 1, 511, 512, 513, 16384, 262144};
  plug_in(*device);
  const auto l = open().value();
  for (const auto n : sizes) {
    const auto got = run(io, read_to_end(l, "exec:big " + std::to_string(n)));
    ASSERT_TRUE(got) << n << ": " << got.error().message();
    EXPECT_EQ(as_text(*got) == pattern(n), true) << n;
  }
  const auto port = run(
      io, l->reverse(
              0, 7001, [&](std::unique_ptr<link::Stream> s) { return write_each(std::move(s), sizes); }, 5s));
  ASSERT_TRUE(port) << port.error().message();
  const auto before = device->counters().from_host.size();
  std::string expected;
  for (const auto n : sizes) expected += pattern(n);
  EXPECT_EQ(as_text(run(io, read_on_phone(*port))) == expected, true);

  const auto c = device->counters();
  EXPECT_EQ(c.complaint, "");
  for (const auto n : sizes) {
    const auto same = [&](const FromHost& p) { return p.announced == n; };
    EXPECT_TRUE(n == 0 || std::any_of(c.from_host.begin() + static_cast<std::ptrdiff_t>(before),
                                      c.from_host.end(), same))
        << "no packet of " << n << " left";
  }
  for (const auto& p : c.from_host) {
    const bool ended = !p.transfers.empty() && p.transfers.back() == 0;
    EXPECT_EQ(ended, p.announced > 0 && p.announced % kBlock == 0) << "payload of " << p.announced;
    EXPECT_EQ(std::accumulate(p.transfers.begin(), p.transfers.end(), std::size_t{0}), p.announced);
  }
}
}  // namespace
}  // namespace hb::test
