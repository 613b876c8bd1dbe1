// The stock adb client, an independent implementation of the host side, against the stand-in's daemon.
#include <fmt/format.h>
#include <sys/wait.h>

#include <cstdio>
#include <sstream>
#include <thread>

#include "support.hpp"

namespace hb::test {
namespace {
constexpr const char* kAdb = "/usr/bin/adb";

struct Ran {
  std::string text;
  int code = -1;
};

class StockClient : public testing::TestWithParam<std::uint32_t> {
 protected:
  void SetUp() override {
    if (!std::filesystem::exists(kAdb)) GTEST_SKIP() << "no stock adb here";
    services.files["/sdcard/pull.bin"] = pattern(300000);
    standin::DaemonOptions o;
    o.version = GetParam();
    daemon = standin::Daemon::listen(io, services, o);
    serial = fmt::format("127.0.0.1:{}", daemon->port());
    phone = std::thread([this] { io.run(); });
    {  // a free port for the client's own server
      net::io_context other;
      net::tcp::acceptor a(other, net::tcp::endpoint(net::asio::ip::address_v4::loopback(), 0));
      server_port = a.local_endpoint().port();
    }
    // On a first visit the client reports that the owner is being asked; the link comes up right after.
    const auto connected = adb("connect " + serial);
    ASSERT_EQ(on_phone("wait-for-device").code, 0) << connected.text;
  }
  void TearDown() override {
    if (!daemon) return;
    adb("kill-server");
    net::asio::post(io, [this] { daemon.reset(), guard.reset(), io.stop(); });
    phone.join();
  }
  /// HOME, log folder and server port are private: nothing of this computer's own set-up is touched.
  Ran adb(const std::string& arguments) {
    const auto command =
        fmt::format("HOME='{0}' TMPDIR='{0}' ANDROID_ADB_SERVER_PORT={1} timeout 30 {2} {3} 2>&1 </dev/null",
                    folder.path().string(), server_port, kAdb, arguments);
    Ran r;
    FILE* f = ::popen(command.c_str(), "r");
    std::string buffer(4096, '\0');
    for (std::size_t n = 0; (n = std::fread(buffer.data(), 1, buffer.size(), f)) > 0;)
      r.text.append(buffer, 0, n);
    const int status = ::pclose(f);
    r.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    return r;
  }
  Ran on_phone(const std::string& arguments) { return adb(fmt::format("-s {} {}", serial, arguments)); }
  static std::string content(const std::filesystem::path& p) {
    std::ostringstream s;
    s << std::ifstream(p, std::ios::binary).rdbuf();
    return s.str();
  }

  Folder folder;
  net::io_context io;
  std::optional<net::asio::executor_work_guard<net::io_context::executor_type>> guard{io.get_executor()};
  FakeServices services;
  std::unique_ptr<standin::Daemon> daemon;
  std::string serial;
  std::thread phone;
  std::uint16_t server_port = 0;
};
INSTANTIATE_TEST_SUITE_P(Version, StockClient, testing::Values(0x01000000u, 0x01000001u),
                         [](const auto& i) { return i.param == 0x01000000 ? "Old" : "New"; });

TEST_P(StockClient, CommandsFilesAndForwardsWork) {
  EXPECT_EQ(on_phone("shell echo hello").text, "hello\n");
  EXPECT_EQ(on_phone("shell getprop ro.product.model").text, "VM-P2\n");
  EXPECT_EQ(on_phone("shell exit 42").code, 42);
  EXPECT_EQ(on_phone("exec-out getprop").text, "VM-P2\n");
  EXPECT_NE(on_phone("shell both").text.find("to err\n"), std::string::npos);

  const auto up = folder / "up.bin", down = folder / "down.bin";
  const auto bytes = pattern(300000);
  std::ofstream(up, std::ios::binary) << bytes;
  const auto pushed = on_phone(fmt::format("push '{}' /data/local/tmp/up.bin", up.string()));
  EXPECT_EQ(pushed.code, 0) << pushed.text;
  const auto pulled = on_phone(fmt::format("pull /data/local/tmp/up.bin '{}'", down.string()));
  EXPECT_EQ(pulled.code, 0) << pulled.text;
  EXPECT_TRUE(content(down) == bytes);
  EXPECT_EQ(on_phone(fmt::format("pull /sdcard/pull.bin '{}'", down.string())).code, 0);
  EXPECT_TRUE(content(down) == services.files.at("/sdcard/pull.bin"));
  EXPECT_NE(on_phone(fmt::format("push '{}' /system/x", up.string())).code, 0) << "read-only";
  EXPECT_NE(on_phone("pull /nowhere").code, 0);

  const auto made = on_phone("reverse tcp:0 tcp:41009");
  ASSERT_EQ(made.code, 0) << made.text;
  const auto port = made.text.substr(0, made.text.find('\n'));
  EXPECT_NE(on_phone("reverse --list").text.find(fmt::format("tcp:{} tcp:41009", port)), std::string::npos);
  EXPECT_EQ(on_phone("reverse --remove tcp:" + port).code, 0);
  EXPECT_EQ(on_phone("reverse --list").text.find("tcp:41009"), std::string::npos);
  EXPECT_EQ(on_phone("reverse tcp:0 tcp:41009").code, 0);
  EXPECT_EQ(on_phone("reverse --remove-all").code, 0);
  EXPECT_NE(on_phone("reverse --remove tcp:" + port).code, 0) << "gone already";
}
}  // namespace
}  // namespace hb::test
