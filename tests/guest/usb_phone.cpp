#include "usb_phone.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <sys/eventfd.h>
#include <sys/mount.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <stdexcept>

namespace hb::test {
namespace {
namespace fs = std::filesystem;
using std::chrono::milliseconds;

/// An end of a pump that waits in the kernel: the signal makes its call return.
constexpr int kNudge = SIGUSR1;

void must(bool holds, std::string_view what) {
  if (!holds) throw std::runtime_error(fmt::format("{}: {}", what, std::strerror(errno)));
}

void put(const std::string& file, std::string_view text) {
  const int f = ::open(file.c_str(), O_WRONLY | O_CLOEXEC);
  must(f >= 0, file);
  const auto n = ::write(f, text.data(), text.size());
  const int error = errno;
  ::close(f);
  errno = error;
  must(n == static_cast<ssize_t>(text.size()), file);
}

void put32(Bytes& to, std::size_t v) {
  for (int i = 0; i < 4; ++i) to.push_back(static_cast<std::uint8_t>(v >> (8 * i) & 0xff));
}

/// Packets of 64 bytes at full, 512 at high (USB 2.0 section 5.8.3), 1024 at SuperSpeed, where a companion
/// follows each endpoint (USB 3.2 section 9.6.7: no burst, no streams).
Bytes function_descriptors(const DeviceSpec& spec) {
  const Bytes companion = {6, 0x30, 0, 0, 0, 0};
  const Bytes speeds[] = {interface_descriptors(spec, 64), interface_descriptors(spec, kPacket),
                          interface_descriptors(spec, 1024, companion)};
  std::size_t endpoints = 0;
  for (const auto& i : spec.interfaces) endpoints += i.endpoints.size();
  const auto each = spec.interfaces.size() + endpoints;
  Bytes out;
  put32(out, FUNCTIONFS_DESCRIPTORS_MAGIC_V2);
  put32(out, 24 + speeds[0].size() + speeds[1].size() + speeds[2].size());
  put32(out, FUNCTIONFS_HAS_FS_DESC | FUNCTIONFS_HAS_HS_DESC | FUNCTIONFS_HAS_SS_DESC);
  for (const auto n : {each, each, each + endpoints}) put32(out, n);
  for (const auto& s : speeds) out.insert(out.end(), s.begin(), s.end());
  return out;
}

Bytes no_strings() {
  Bytes out;
  for (const std::size_t v :
       {std::size_t{FUNCTIONFS_STRINGS_MAGIC}, std::size_t{16}, std::size_t{0}, std::size_t{0}})
    put32(out, v);
  return out;
}
}  // namespace

UsbPhone::UsbPhone(int controller, const DeviceSpec& spec, std::uint16_t daemon_port)
    : gadget_(fmt::format("/sys/kernel/config/usb_gadget/g{}", controller)),
      mount_(fmt::format("/run/functionfs-{}", controller)),
      port_(daemon_port),
      controller_(controller),
      wake_(::eventfd(0, EFD_CLOEXEC)) {
  struct sigaction nothing {};
  nothing.sa_handler = [](int) {};
  ::sigaction(kNudge, &nothing, nullptr);
  describe(spec);
  events_ = std::thread([this] { run_events(); });
}

void UsbPhone::describe(const DeviceSpec& spec) {
  const auto instance = fmt::format("g{}", controller_);
  for (const auto* folder : {"", "/strings/0x409", "/configs/c.1"}) fs::create_directory(gadget_ + folder);
  put(gadget_ + "/idVendor", "0xcafe");
  put(gadget_ + "/idProduct", "0xf00d");
  put(gadget_ + "/strings/0x409/serialnumber", spec.serial);
  fs::create_directory(gadget_ + "/functions/ffs." + instance);
  fs::create_directory_symlink(gadget_ + "/functions/ffs." + instance, gadget_ + "/configs/c.1/f");
  fs::create_directories(mount_);
  must(::mount(instance.c_str(), mount_.c_str(), "functionfs", 0, nullptr) == 0, "mounting FunctionFS");
  control_ = ::open((mount_ + "/ep0").c_str(), O_RDWR | O_CLOEXEC);
  must(control_ >= 0, "ep0");
  for (const auto& words : {function_descriptors(spec), no_strings()})
    must(::write(control_, words.data(), words.size()) == static_cast<ssize_t>(words.size()), "descriptors");
  int number = 0;  // the files are numbered over all interfaces
  for (const auto& i : spec.interfaces)
    for (const auto e : i.endpoints) {
      ++number;
      if (i.type != 0xff || i.sub != 0x42 || i.protocol != 0x01) continue;
      const auto file = fmt::format("{}/ep{}", mount_, number);
      ((e & 0x80) != 0 ? in_ : out_).file = ::open(file.c_str(), O_RDWR | O_CLOEXEC);
    }
}

UsbPhone::~UsbPhone() {
  try {
    unplug();
  } catch (const std::runtime_error&) {  // it was not plugged in
  }
  const std::uint64_t one = 1;
  static_cast<void>(!::write(wake_, &one, sizeof one));
  events_.join();
  for (const int f : {in_.file, out_.file, control_, wake_})
    if (f >= 0) ::close(f);
  ::umount(mount_.c_str());
  std::error_code ignored;
  fs::remove(gadget_ + "/configs/c.1/f", ignored);
  for (const auto& folder : {std::string("/configs/c.1"), fmt::format("/functions/ffs.g{}", controller_),
                             std::string("/strings/0x409"), std::string()})
    ::rmdir((gadget_ + folder).c_str());
}

void UsbPhone::plug() { put(gadget_ + "/UDC", fmt::format("dummy_udc.{}", controller_)); }
void UsbPhone::unplug() { put(gadget_ + "/UDC", "\n"); }

void UsbPhone::stall_after(bool in, std::size_t bytes, int times) {
  const std::lock_guard lock(mutex_);
  auto& end = in ? in_ : out_;
  end.left = bytes;
  end.stalls = times;
}

DeviceCounters UsbPhone::counters() const {
  const std::lock_guard lock(mutex_);
  return counters_;
}

bool UsbPhone::wait_for(const std::function<bool(const DeviceCounters&)>& holds) const {
  std::unique_lock lock(mutex_);
  return changed_.wait_for(lock, std::chrono::minutes(1), [&] { return holds(counters_); });
}

void UsbPhone::run_events() {
  for (;;) {
    pollfd both[2] = {{control_, POLLIN, 0}, {wake_, POLLIN, 0}};
    if (::poll(both, 2, -1) < 0 && errno == EINTR) continue;
    if (both[1].revents != 0) break;
    usb_functionfs_event e{};
    if (::read(control_, &e, sizeof e) != static_cast<ssize_t>(sizeof e)) continue;
    if (e.type == FUNCTIONFS_SETUP)  // none is known: the wrong direction is a stall
      static_cast<void>((e.u.setup.bRequestType & 0x80) != 0 ? ::read(control_, &e, 0)
                                                             : ::write(control_, &e, 0));
    if (e.type == FUNCTIONFS_ENABLE || e.type == FUNCTIONFS_DISABLE || e.type == FUNCTIONFS_UNBIND) finish();
    if (e.type == FUNCTIONFS_ENABLE && port_ != 0) begin();
  }
  finish();
}

void UsbPhone::begin() {
  {
    const std::lock_guard lock(mutex_);
    counters_ = {};
    in_.stalls = out_.stalls = 0;
  }
  session_ = std::make_unique<Session>(port_);
  session_->out = std::thread([this, &s = *session_] { run_out(s); });
  session_->in = std::thread([this, &s = *session_] { run_in(s); });
}

void UsbPhone::finish() {
  if (!session_) return;
  session_->ends = true;
  session_->daemon.end();
  while (session_->pumps > 0) {  // a signal that comes before the call it is meant for is lost
    for (auto* t : {&session_->out, &session_->in}) ::pthread_kill(t->native_handle(), kNudge);
    std::this_thread::sleep_for(milliseconds(2));
  }
  session_->out.join();
  session_->in.join();
  session_.reset();
}

void UsbPhone::count(bool in, std::size_t n) {
  const std::lock_guard lock(mutex_);
  auto& end = in ? in_ : out_;
  end.left -= std::min(end.left, n);
  if (in) counters_.bytes_in += n;
  changed_.notify_all();
}

void UsbPhone::stall_if_due(const Session& s, bool in) {
  const auto& end = in ? in_ : out_;
  for (;;) {
    {
      const std::lock_guard lock(mutex_);
      if (s.ends || end.stalls == 0 || end.left > 0) return;
      --(in ? in_ : out_).stalls;
    }
    char byte = 0;  // FunctionFS: the wrong direction halts the endpoint
    if ((in ? ::read(end.file, &byte, 1) : ::write(end.file, &byte, 1)) >= 0 || errno != EBADMSG) return;
    if (const std::lock_guard lock(mutex_); ++counters_.halts, end.stalls == 0) return;
    std::this_thread::sleep_for(milliseconds(2));  // halted anew however often the host clears it
  }
}

void UsbPhone::run_out(Session& s) {
  Bytes block(kBlock);
  while (!s.ends) {
    stall_if_due(s, false);
    const auto n = ::read(out_.file, block.data(), block.size());
    if (n < 0) break;
    const ByteView got(block.data(), static_cast<std::size_t>(n));
    bool well = true;
    {
      const std::lock_guard lock(mutex_);
      counters_.take(got);
      well = counters_.complaint.empty();
    }
    count(false, got.size());
    if (!well || !s.daemon.send_all(got)) break;
  }
  --s.pumps;
}

bool UsbPhone::write_in(const Session& s, ByteView transfer) {
  stall_if_due(s, true);
  if (s.ends) return false;
  if (::write(in_.file, transfer.data(), transfer.size()) != static_cast<ssize_t>(transfer.size()))
    return false;
  count(true, transfer.size());
  return true;
}

void UsbPhone::run_in(Session& s) {
  Bytes header(kHeader), block(kBlock);
  for (bool well = true; well && s.daemon.receive_all(header);) {
    well = write_in(s, header);
    for (std::size_t left = u32_at(header, 12); well && left > 0;) {
      block.resize(std::min(left, kBlock));
      well = s.daemon.receive_all(block) && write_in(s, block);
      left -= block.size();
    }
  }
  --s.pumps;
}
}  // namespace hb::test
