// The programs themselves, as a bench runs them: the stand-in behind a USB device of the kernel.
#include <gtest/gtest.h>

#include "tests/support/process.hpp"
#include "usb_phone.hpp"

namespace hb::test {
namespace {
using nlohmann::json;
const std::string kBin = std::string(HB_BINARY_DIR) + "/bin/";

TEST(ProgramThroughKernel, ListsThePhoneAndRunsItsChecklist) {
  const TempFolder home;
  const Background standin({kBin + "standin", "--browser", "none"});
  const auto ports = json::parse(standin.first_line());
  UsbPhone device(0, phone_spec(), ports["port"].get<std::uint16_t>());
  device.plug();
  const auto bench = [&](std::vector<std::string> more, int seconds = 60) {
    std::vector<std::string> words = {kBin + "handback", "--home", home / "bench"};
    words.insert(words.end(), more.begin(), more.end());
    return run(words, seconds);
  };
  json phones;
  for (int i = 0; i < 50 && phones.empty(); ++i) phones = bench({"phones", "--json"}).json();
  ASSERT_EQ(phones.size(), 1u) << phones;
  EXPECT_EQ(phones[0]["state"], "ready") << phones;
  EXPECT_EQ(phones[0]["model"], "Velmora Petal") << phones;
  ASSERT_EQ(
      bench({"bench", "init", "--shop", "Demo shop", "--name", "bench 1", "--contact", "ask at the counter"})
          .code,
      0);
  ASSERT_EQ(
      bench({"intake", "--repair", "display-hinge-swap", "--fault", "inner-screen-dark", "--consent"}).code,
      0);
  const auto jig = "tcp:127.0.0.1:" + std::to_string(ports["jig_port"].get<int>());
  const auto r = bench({"run", "--device", "usb", "--fixture", jig, "--json"}, 600);
  EXPECT_EQ(r.code, 3) << "no browser and no charging pad over USB: not complete\n" << r.out << r.err;
  EXPECT_NE(r.out.find("\"pass\""), std::string::npos) << r.out;
  EXPECT_EQ(r.out.find("\"fail\""), std::string::npos) << r.out;
  const auto c = device.counters();
  EXPECT_EQ(c.complaint, "");
  EXPECT_GT(c.bytes_in, 100'000u);
  std::printf("whole run: %zu bytes from the phone, %zu to it\n", c.bytes_in, c.bytes_out);
}
}  // namespace
}  // namespace hb::test
