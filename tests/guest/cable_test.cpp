// What goes wrong on a cable, as a kernel tells it: pulled, stalled, reset, held, not allowed.
#include <fcntl.h>
#include <fmt/format.h>
#include <linux/usbdevice_fs.h>
#include <sys/fsuid.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <thread>

#include "on_kernel.hpp"
#include "tests/support/process.hpp"

namespace hb::test {
namespace {
std::string node(const link::UsbPlace& p) {
  return fmt::format("/dev/bus/usb/{:03}/{:03}", std::stoi(p.port), p.address);
}

class KernelCable : public OnKernel {
 protected:
  /// Pulls the cable once `holds`, while `work` runs.
  template <class T>
  T pull_during(std::function<bool(const DeviceCounters&)> holds, net::awaitable<T> work) {
    std::thread hand([&] {
      EXPECT_TRUE(device->wait_for(holds));
      device->unplug();
    });
    auto result = run(io, std::move(work));
    hand.join();
    return result;
  }
  void expect_pulled(const Error& e, const link::Link& l) {
    EXPECT_EQ(e.code, ErrorCode::link_lost);
    EXPECT_NE(e.what.find("unplugged"), std::string::npos) << e.message();
    EXPECT_FALSE(l.alive());
  }
  void expect_works_after_replug(const UsbPlace& before) {
    const auto gone = next();
    ASSERT_TRUE(gone);
    EXPECT_FALSE(gone->arrived);
    EXPECT_EQ(gone->place, before);
    EXPECT_EQ(link::probe_usb(before), link::UsbAccess::gone);
    const auto place = plug_in(*device);
    EXPECT_EQ(place.port, before.port);
    EXPECT_NE(place.address, before.address) << "the kernel numbers it anew";
    const auto l = open();
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(shell(**l, "echo back")->out, "back\n");
  }
};

TEST_F(KernelCable, PulledWhileThePhoneSends) {
  const auto place = plug_in(*device);
  const auto l = open().value();
  const auto waits = run(io, l->open_stream("shell:never", 5s)).value();
  const auto out = pull_during([](const auto& c) { return c.bytes_in > 300'000; },
                               l->shell("big 16000000", 1h, 32u << 20));
  ASSERT_FALSE(out);
  expect_pulled(out.error(), *l);
  EXPECT_FALSE(run(io, waits->read(1h))) << "whatever else waited has ended too";
  expect_works_after_replug(place);
}

TEST_F(KernelCable, PulledWhileTheBenchSends) {
  const auto place = plug_in(*device);
  const auto l = open().value();
  const auto out = pull_during([](const auto& c) { return c.bytes_out > 300'000; },
                               push(l, "/data/local/tmp/file", pattern(16'000'000)));
  ASSERT_FALSE(out);
  expect_pulled(out.error(), *l);
  expect_works_after_replug(place);
}

TEST_F(KernelCable, PulledWhileNothingHappens) {
  const auto place = plug_in(*device);
  const auto l = open().value();
  const auto s = run(io, l->open_stream("shell:never", 5s)).value();
  const auto got = pull_during([](const auto&) { return true; }, s->read(1h));
  ASSERT_FALSE(got);
  expect_pulled(got.error(), *l);
  expect_works_after_replug(place);
}

class BenchEnds : public KernelCable, public testing::WithParamInterface<bool> {};
INSTANTIATE_TEST_SUITE_P(, BenchEnds, testing::Values(true, false),
                         [](const auto& p) { return p.param ? "WhileThePhoneSends" : "WhileItSends"; });

TEST_P(BenchEnds, InTheMiddleAndTheNextOneWorks) {
  plug_in(*device);
  for (int round = 0; round < 3; ++round) {
    const auto l = open();
    ASSERT_TRUE(l) << "round " << round << ": " << l.error().message();
    EXPECT_EQ(shell(**l, "echo here")->out, "here\n");
    const auto before = device->counters();
    std::thread hand([&] {
      EXPECT_TRUE(device->wait_for([&](const auto& c) {
        return GetParam() ? c.bytes_in > before.bytes_in + 300'000 : c.bytes_out > before.bytes_out + 300'000;
      }));
      net::asio::post(io, [&] { (*l)->close(); });
    });
    if (GetParam())
      EXPECT_FALSE(shell(**l, "big 2000000"));
    else
      EXPECT_FALSE(run(io, push(*l, "/data/local/tmp/file", pattern(2'000'000))));
    hand.join();
  }
  EXPECT_TRUE(open());
}

TEST_F(KernelCable, StallInTheMiddleIsClearedAndLosesNoByte) {
  const auto text = pattern(1u << 20);
  plug_in(*device);
  const auto l = open().value();
  for (const std::size_t at : {0u, 512u, 100'000u, 300'000u, 1'000'000u}) {
    device->stall_after(true, at);
    const auto in = shell(*l, "big 1048576");
    ASSERT_TRUE(in) << at << ": " << in.error().message();
    EXPECT_EQ(in->out == text, true) << at;
    device->stall_after(false, at);
    const auto answer = run(io, push(l, "/data/local/tmp/file", text));
    ASSERT_TRUE(answer) << at << ": " << answer.error().message();
    phone.with([&](FakeServices& s) { EXPECT_EQ(s.files["/data/local/tmp/file"] == text, true) << at; });
    EXPECT_EQ(device->counters().complaint, "") << at;
  }
  EXPECT_EQ(device->counters().halts, 10);
}

TEST_F(KernelCable, EndpointThatStaysStalledIsALostLink) {
  for (const bool in : {true, false}) {
    plug_in(*device);
    const auto l = open().value();
    device->stall_after(in, 5000, 1000);
    const auto out = in ? shell(*l, "big 100000").error()
                        : run(io, push(l, "/data/local/tmp/file", pattern(100'000))).error();
    EXPECT_EQ(out.code, ErrorCode::link_lost) << out.message();
    EXPECT_FALSE(l->alive());
    pull_out(*device);
  }
}

TEST_F(KernelCable, ResetByAnotherProgramLosesTheLinkAndThePhoneIsFoundAgain) {
  const auto place = plug_in(*device);
  {
    const auto l = open().value();
    const auto s = run(io, l->open_stream("shell:never", 5s)).value();
    const int other = ::open(node(place).c_str(), O_RDWR | O_CLOEXEC);
    std::thread hand([&] { EXPECT_EQ(::ioctl(other, USBDEVFS_RESET, nullptr), 0) << std::strerror(errno); });
    const auto got = run(io, s->read(20s));
    hand.join();
    ::close(other);
    ASSERT_FALSE(got);
    EXPECT_EQ(got.error().code, ErrorCode::link_lost) << got.error().message();
  }
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_EQ(shell(**l, "echo again")->out, "again\n");
}

/// Another process that has claimed the interface, by the kernel's own calls.
class Holder {
 public:
  Holder(const std::string& file, unsigned interface) {
    int up[2], down[2];
    if (::pipe2(up, O_CLOEXEC) != 0 || ::pipe2(down, O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
    pid_ = ::fork();
    if (pid_ == 0) {  // calls that are safe after a fork only
      ::close(down[1]);
      const int f = ::open(file.c_str(), O_RDWR);
      char held = ::ioctl(f, USBDEVFS_CLAIMINTERFACE, &interface) == 0 ? 1 : 0;
      static_cast<void>(!::write(up[1], &held, 1));
      static_cast<void>(!::read(down[0], &held, 1));
      ::_exit(0);
    }
    ::close(up[1]);
    ::close(down[0]);
    end_ = down[1];
    char held = 0;
    holds = ::read(up[0], &held, 1) == 1 && held == 1;
    ::close(up[0]);
  }
  Holder(const Holder&) = delete;
  Holder& operator=(const Holder&) = delete;
  ~Holder() {
    ::close(end_);
    ::waitpid(pid_, nullptr, 0);
  }
  bool holds = false;

 private:
  pid_t pid_ = -1;
  int end_ = -1;
};

using KernelAccess = OnKernel;

TEST_F(KernelAccess, AnotherProcessHoldsThePhone) {
  const auto place = plug_in(*device);
  {
    const Holder holder(node(place), 2);
    ASSERT_TRUE(holder.holds);
    EXPECT_EQ(link::probe_usb(place), link::UsbAccess::busy);
    const auto l = open();
    ASSERT_FALSE(l);
    EXPECT_EQ(l.error().code, ErrorCode::refused);
    EXPECT_NE(l.error().message().find("another debug-link server"), std::string::npos)
        << l.error().message();
  }
  EXPECT_EQ(link::probe_usb(place), link::UsbAccess::free);
  EXPECT_TRUE(open());
}

TEST_F(KernelAccess, DriverOfTheKernelMakesRoomAndComesBack) {
  const auto place = plug_in(*device);
  const auto driver = [&] {
    std::error_code none;
    const auto at = "/sys/bus/usb/devices/" + place.port + ":1.2/driver";
    return std::filesystem::read_symlink(at, none).filename().string();
  };
  std::ofstream("/sys/bus/usb-serial/drivers/generic/new_id") << "cafe f00d" << std::flush;
  ASSERT_EQ(driver(), "usbserial_generic");
  EXPECT_EQ(link::probe_usb(place), link::UsbAccess::free);
  EXPECT_EQ(driver(), "usbserial_generic");
  {
    const auto l = open();
    ASSERT_TRUE(l) << l.error().message();
    EXPECT_EQ(driver(), "usbfs");
    EXPECT_EQ(shell(**l, "echo here")->out, "here\n");
  }
  EXPECT_EQ(driver(), "usbserial_generic");
  std::ofstream("/sys/bus/usb-serial/drivers/generic/remove_id") << "cafe f00d" << std::flush;
}

/// File access as somebody without rights, on this thread.
class WithoutRights {
 public:
  WithoutRights() { ::setfsgid(65534), ::setfsuid(65534); }
  WithoutRights(const WithoutRights&) = delete;
  WithoutRights& operator=(const WithoutRights&) = delete;
  ~WithoutRights() { ::setfsuid(0), ::setfsgid(0); }
};

TEST_F(KernelAccess, RuleIsMissingThenWrittenBySetupAndAppliedByUdev) {
  DeviceSpec adapter;
  adapter.interfaces = {{0xff, 0xff, 0x00, {0x81, 0x02}}};
  UsbPhone other(1, adapter, 0);
  other.plug();
  const auto place = plug_in(*device);
  {
    const WithoutRights nobody;
    EXPECT_EQ(link::probe_usb(place), link::UsbAccess::denied);
    const auto l = open();
    ASSERT_FALSE(l);
    EXPECT_EQ(l.error().code, ErrorCode::refused) << l.error().message();
    EXPECT_NE(l.error().next.find("udev rule"), std::string::npos) << l.error().message();
  }
  const auto wrote = run({HB_BINARY_DIR "/bin/handback", "setup", "--yes"}, 20);
  ASSERT_EQ(wrote.code, 0) << wrote.out << wrote.err;
  EXPECT_EQ(wrote.out.find("could not be told"), std::string::npos) << wrote.out;
  ASSERT_EQ(run({"udevadm", "settle"}, 20).code, 0);
  {
    const WithoutRights nobody;
    EXPECT_EQ(link::probe_usb(place), link::UsbAccess::free) << "without being plugged in again";
    EXPECT_TRUE(open());
  }
  pull_out(*device);
  const auto again = plug_in(*device);
  {
    const WithoutRights nobody;
    EXPECT_EQ(link::probe_usb(again), link::UsbAccess::free);
  }
  struct stat s {};
  int open_to_all = 0;  // the adapter and the root hubs stay as they were
  for (const auto& f : std::filesystem::recursive_directory_iterator("/dev/bus/usb"))
    if (f.is_character_file() && ::stat(f.path().c_str(), &s) == 0 && (s.st_mode & 2) != 0) ++open_to_all;
  EXPECT_EQ(open_to_all, 1);
}
}  // namespace
}  // namespace hb::test
