// USB without a phone: descriptors, framing, and a whole link over a simulated pair of bulk endpoints whose
// completions come from a thread of their own, as libusb's do.
#include <condition_variable>
#include <mutex>
#include <thread>

#include "harness/link/detail/usb_pipe.hpp"
#include "harness/link/detail/usb_transport.hpp"
#include "support.hpp"

namespace hb::test {
namespace {
using namespace link::detail;
using link::Link;
using link::LinkOptions;
using link::Packet;

constexpr std::size_t kPacket = 512;  // high-speed bulk, USB 2.0 section 5.8.3

/// Device end of two bulk endpoints. Data towards the bench is a row of USB packets: a read ends when it is
/// full or after a short packet, and else waits, also half filled.
class FakePipe final : public UsbPipe {
 public:
  struct Phone {
    std::mutex mutex;
    std::condition_variable changed;
    std::deque<Bytes> packets;                              ///< towards the bench
    std::vector<Bytes> transfers;                           ///< from the bench
    std::function<void(Phone&, const Bytes&)> on_transfer;  ///< with the mutex held
    int stall_in = 0, stall_out = 0, cleared = 0, reads = 0;
    bool unplugged = false;
    void send(ByteView bytes) {  // one transfer of the phone, which ends whole packets without an empty one
      for (std::size_t at = 0; at < bytes.size(); at += kPacket) {
        const auto piece = bytes.subspan(at, std::min(kPacket, bytes.size() - at));
        packets.emplace_back(piece.begin(), piece.end());
      }
      changed.notify_all();
    }
    void send_packet(const Packet& p) {
      send(link::encode_header(p, link::kVersionSkipChecksum));
      send(p.payload);
    }
  };
  explicit FakePipe(std::shared_ptr<Phone> phone) : phone_(std::move(phone)), thread_([this] { work(); }) {}
  FakePipe(const FakePipe&) = delete;
  FakePipe& operator=(const FakePipe&) = delete;
  ~FakePipe() override {
    {
      const std::lock_guard lock(phone_->mutex);
      closing_ = true;
    }
    phone_->changed.notify_all();
    thread_.join();
  }
  void read(std::size_t size, Callback done) override {
    EXPECT_EQ(size % kPacket, 0u) << "else the endpoint overflows";
    const std::lock_guard lock(phone_->mutex);
    in_.emplace_back(size, std::move(done));
    ++phone_->reads;
    phone_->changed.notify_all();
  }
  void write(Bytes data, Callback done) override {
    const std::lock_guard lock(phone_->mutex);
    out_.emplace_back(std::move(data), std::move(done));
    phone_->changed.notify_all();
  }
  bool clear_stall(Way way) override {
    const std::lock_guard lock(phone_->mutex);
    ++phone_->cleared;
    (way == Way::in ? halted_in_ : halted_out_) = false;
    phone_->changed.notify_all();
    return true;
  }
  bool reset() override {
    const std::lock_guard lock(phone_->mutex);
    EXPECT_TRUE(in_.empty() && out_.empty());
    return true;
  }
  void cancel(Way way) noexcept override {
    const std::lock_guard lock(phone_->mutex);
    (way == Way::in ? cancel_in_ : cancel_out_) = (way == Way::in ? in_.size() : out_.size());
    phone_->changed.notify_all();
  }
  bool gone() const noexcept override {
    const std::lock_guard lock(phone_->mutex);
    return phone_->unplugged;
  }
  std::size_t max_packet(Way) const noexcept override { return kPacket; }

 private:
  std::optional<UsbDone> try_read(std::size_t size) {
    UsbDone d;
    d.end = UsbEnd::stalled;
    if (phone_->stall_in > 0 && phone_->stall_in-- > 0) {
      halted_in_ = true;
      return d;
    }
    bool whole = false;
    while (!whole && !phone_->packets.empty()) {
      const auto p = std::move(phone_->packets.front());
      phone_->packets.pop_front();
      EXPECT_LE(p.size() + filled_.size(), size) << "babble";
      filled_.insert(filled_.end(), p.begin(), p.end());
      whole = p.size() < kPacket || filled_.size() == size;
    }
    if (!whole) return std::nullopt;
    d.end = UsbEnd::done;
    d.moved = filled_.size();
    d.data = std::exchange(filled_, {});
    return d;
  }
  UsbDone take_write(Bytes data) {
    UsbDone d;
    const bool stall = phone_->stall_out > 0 && phone_->stall_out-- > 0;
    halted_out_ = stall;
    d.end = stall ? UsbEnd::stalled : UsbEnd::done;
    d.moved = stall ? data.size() / 2 / kPacket * kPacket : data.size();
    const Bytes got(data.begin(), data.begin() + static_cast<std::ptrdiff_t>(d.moved));
    phone_->transfers.push_back(got);
    if (phone_->on_transfer) phone_->on_transfer(*phone_, got);
    d.data = std::move(data);
    return d;
  }
  static void finish(std::unique_lock<std::mutex>& lock, const Callback& done, UsbDone d) {
    lock.unlock();
    done(std::move(d));
    lock.lock();
  }
  /// What an end of the pipe, a pulled cable or cancel() makes of a transfer that waits.
  std::optional<UsbDone> cut_off(std::size_t& to_cancel) const {
    UsbDone d;
    d.end = phone_->unplugged ? UsbEnd::gone : UsbEnd::cancelled;
    if (!phone_->unplugged && !closing_ && to_cancel == 0) return std::nullopt;
    to_cancel -= std::min<std::size_t>(to_cancel, 1);
    return d;
  }
  bool do_one_write(std::unique_lock<std::mutex>& lock) {
    if (out_.empty()) return false;
    auto cut = cut_off(cancel_out_);
    if (!cut && halted_out_) return false;
    auto [data, done] = std::move(out_.front());
    out_.pop_front();
    if (cut) cut->data = std::move(data);
    finish(lock, done, cut ? std::move(*cut) : take_write(std::move(data)));
    return true;
  }
  bool do_one_read(std::unique_lock<std::mutex>& lock) {
    if (in_.empty()) return false;
    auto d = cut_off(cancel_in_);
    if (d) d->data = std::exchange(filled_, {});
    if (!d && halted_in_) return false;
    if (!d) d = try_read(in_.front().first);
    if (!d) return false;
    const auto done = std::move(in_.front().second);
    in_.pop_front();
    finish(lock, done, std::move(*d));
    return true;
  }
  void work() {
    std::unique_lock lock(phone_->mutex);
    while (!closing_ || !in_.empty() || !out_.empty())
      if (!do_one_write(lock) && !do_one_read(lock) && !closing_) phone_->changed.wait(lock);
  }

  std::shared_ptr<Phone> phone_;
  std::deque<std::pair<std::size_t, Callback>> in_;
  std::deque<std::pair<Bytes, Callback>> out_;
  Bytes filled_;
  std::size_t cancel_in_ = 0, cancel_out_ = 0;
  bool halted_in_ = false, halted_out_ = false, closing_ = false;
  std::thread thread_;
};

/// Takes the transfers of the bench as a strict daemon does: a header is one transfer of exactly 24 bytes.
struct StrictDaemon {
  std::optional<Packet> unfinished;
  std::size_t left = 0;
  std::function<void(FakePipe::Phone&, const Packet&)> on_packet;
  void operator()(FakePipe::Phone& phone, const Bytes& t) {
    if (left == 0 && t.empty()) return;  // the zero-length end of a payload
    if (left == 0) {
      ASSERT_EQ(t.size(), link::kHeaderSize) << "a header of another length drops the link";
      const auto at = [&](std::size_t i) {
        return std::uint32_t{t[i]} | std::uint32_t{t[i + 1]} << 8 | std::uint32_t{t[i + 2]} << 16 |
               std::uint32_t{t[i + 3]} << 24;
      };
      unfinished.emplace();
      unfinished->command = at(0), unfinished->arg0 = at(4), unfinished->arg1 = at(8);
      left = at(12);
    } else {
      ASSERT_LE(t.size(), left) << "more payload than announced drops the link";
      unfinished->payload.insert(unfinished->payload.end(), t.begin(), t.end());
      left -= t.size();
    }
    if (left == 0) on_packet(phone, *std::exchange(unfinished, std::nullopt));
  }
};

/// Greets, opens every stream and sends back what it gets.
void echo(FakePipe::Phone& phone, const Packet& p) {
  if (p.command == link::kCnxn) phone.send_packet(greeting());
  if (p.command == link::kOpen) phone.send_packet(packet(link::kOkay, 7, p.arg0));
  if (p.command != link::kWrte) return;
  phone.send_packet(packet(link::kOkay, 7, p.arg0));
  phone.send_packet(packet(link::kWrte, 7, p.arg0, as_text(p.payload)));
}

class UsbLink : public testing::Test {
 protected:
  UsbLink() {
    StrictDaemon d;
    d.on_packet = echo;
    phone->on_transfer = d;
  }
  Result<std::shared_ptr<Link>> open() {
    auto t = usb_transport(io.get_executor(), std::make_unique<FakePipe>(phone));
    return run(io, Link::open(std::move(t), bench_key(), LinkOptions{}));
  }
  net::awaitable<Result<Bytes>> round_trip(std::shared_ptr<Link> l, Bytes data) {
    const auto s = co_await l->open_stream("echo:", 10s);
    if (!s) co_return s.error();
    const auto size = data.size();
    const auto wrote = co_await (*s)->write(std::move(data), 10s);
    if (!wrote) co_return wrote.error();
    Bytes back;
    while (back.size() < size) {
      const auto piece = co_await (*s)->read(10s);
      if (!piece) co_return piece.error();
      back.insert(back.end(), piece->begin(), piece->end());
    }
    co_return back;
  }
  std::shared_ptr<FakePipe::Phone> phone = std::make_shared<FakePipe::Phone>();
  net::io_context io;
};

TEST_F(UsbLink, PayloadsOfEverySizeAroundWholePacketsComeBack) {
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  EXPECT_EQ((*l)->transport_kind(), "usb");
  for (const std::size_t n : {1, 23, 24, 25, 511, 512, 513, 1024, 65535, 65536, 65537, 131072, 300000}) {
    const auto text = pattern(n);
    const auto back = run(io, round_trip(*l, Bytes(text.begin(), text.end())));
    ASSERT_TRUE(back) << n << ": " << back.error().message();
    EXPECT_EQ(as_text(*back) == text, true) << n;
  }
}

TEST_F(UsbLink, LeftoversOfAFormerConnectionAreDropped) {
  {
    const std::lock_guard lock(phone->mutex);
    phone->send(Bytes(300, 0x55));                                         // the end of a payload
    phone->send_packet(packet(link::kWrte, 3, 4, std::string(700, 'x')));  // a whole packet
    phone->send(wire(packet(link::kOkay, 3, 4)));                          // a bare header
    phone->send(Bytes(24, 0x00));                                          // looks as long as a header
  }
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
}

TEST_F(UsbLink, LongLeftoversTakeFewTransfersAndDoNotHideTheHeaderBehindThem) {
  {
    const std::lock_guard lock(phone->mutex);
    phone->send(Bytes(400 * kPacket, 0x55));  // a payload's rest, without an end of its own
    phone->send_packet(packet(link::kWrte, 3, 4, std::string(700, 'x')));
    phone->send(Bytes(3 * kPacket, 0x55));  // and the greeting behind another one
  }
  const auto l = open();
  ASSERT_TRUE(l) << l.error().message();
  const std::lock_guard lock(phone->mutex);
  EXPECT_LE(phone->reads, 40);
}

TEST_F(UsbLink, StallIsClearedAndTheTransferGoesOn) {
  const auto l = open().value();
  {
    const std::lock_guard lock(phone->mutex);
    phone->stall_in = 1;
    phone->stall_out = 1;
  }
  {
    const auto text = pattern(5000);
    const auto back = run(io, round_trip(l, Bytes(text.begin(), text.end())));
    ASSERT_TRUE(back) << back.error().message();
    EXPECT_EQ(as_text(*back) == text, true);
  }
  EXPECT_EQ(phone->cleared, 2);
}

TEST_F(UsbLink, StallInTheMiddleOfAPayloadLosesNoByte) {
  const auto l = open().value();
  {
    const std::lock_guard lock(phone->mutex);
    StrictDaemon d;
    d.on_packet = echo;
    phone->on_transfer = [d](FakePipe::Phone& p, const Bytes& t) mutable {
      d(p, t);
      if (d.left == 40000) p.stall_out = 1;  // the header of our payload has just come
    };
  }
  const auto text = pattern(40000);
  const auto back = run(io, round_trip(l, Bytes(text.begin(), text.end())));
  ASSERT_TRUE(back) << back.error().message();
  EXPECT_EQ(as_text(*back) == text, true);
  EXPECT_EQ(phone->cleared, 1);
}

TEST_F(UsbLink, EndpointThatStaysStalledIsALostLink) {
  phone->stall_out = 100;
  const auto l = open();
  ASSERT_FALSE(l);
  EXPECT_EQ(l.error().code, ErrorCode::link_lost);
}

TEST_F(UsbLink, UnpluggedWhileSomebodyWaits) {
  const auto l = open().value();
  const auto s = run(io, l->open_stream("echo:", 5s)).value();
  const auto pull = [](std::shared_ptr<FakePipe::Phone> p) -> net::awaitable<void> {
    static_cast<void>(co_await net::pause(20ms));
    const std::lock_guard lock(p->mutex);
    p->unplugged = true;
    p->changed.notify_all();
  };
  net::co_spawn(io, pull(phone), net::detached);
  const auto r = run(io, s->read(1h));
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::link_lost) << r.error().message();
  EXPECT_FALSE(l->alive());
}

TEST(UsbTransfers, HeaderPayloadAndEmptyEndAreSeparate) {
  // AOSP adb client/usb_linux.cpp: a zero-length packet follows a payload of whole packets.
  struct Row {
    std::size_t payload;
    std::vector<std::size_t> transfers;
  };
  const Row rows[] = {{0, {24}},
                      {1, {24, 1}},
                      {511, {24, 511}},
                      {512, {24, 512, 0}},
                      {1024, {24, 1024, 0}},
                      {70000, {24, 65536, 4464}},
                      {65536, {24, 65536, 0}},
                      {131072, {24, 65536, 65536, 0}}};
  for (const auto& row : rows) {
    std::vector<std::size_t> sizes;
    for (const auto& t : usb_transfers(Bytes(24), Bytes(row.payload), kPacket)) sizes.push_back(t.size());
    EXPECT_EQ(sizes, row.transfers) << row.payload;
  }
}

/// A framer that has read the greeting and then a header that announces `payload` bytes.
UsbFramer after_header(std::size_t payload) {
  UsbFramer f(kPacket);
  EXPECT_EQ(f.next_size(), 16384u) << "room for what is left over";
  EXPECT_EQ(f.next_size(), std::nullopt) << "before the greeting one at a time";
  EXPECT_TRUE(f.take(wire(packet(link::kAuth, 1, 0))));
  EXPECT_EQ(f.next_size(), kPacket);
  EXPECT_TRUE(f.take(
      link::encode_header(packet(link::kWrte, 1, 1, std::string(payload, 'x')), link::kVersionSkipChecksum)));
  return f;
}

TEST(UsbFraming, PiecesOfAPayloadAndTheNextHeaderAreAskedForAhead) {
  auto f = after_header(140'000);
  for (const std::size_t n : {65536, 65536, 9216, 512}) EXPECT_EQ(f.next_size(), n);
  EXPECT_EQ(f.next_size(), std::nullopt) << "what follows is not known";
  for (const std::size_t n : {65536, 65536, 8928}) EXPECT_EQ(f.take(Bytes(n)).value().size(), n);
  EXPECT_EQ(f.next_size(), std::nullopt) << "the header is asked for";
  EXPECT_EQ(f.take(Bytes{}).value().size(), 0u) << "an empty transfer in its place";
  EXPECT_EQ(f.next_size(), kPacket);
  EXPECT_TRUE(f.take(link::encode_header(greeting(), link::kVersionChecksum)));
}

TEST(UsbFraming, TransferThatEndsWithinAPayload) {
  auto f = after_header(140'000);
  for (const std::size_t n : {65536, 65536, 9216, 512}) EXPECT_EQ(f.next_size(), n);
  for (const std::size_t n : {1000, 65536, 9216, 512}) EXPECT_EQ(f.take(Bytes(n)).value().size(), n);
  std::size_t left = 140'000 - 1000 - 65536 - 9216 - 512;
  EXPECT_EQ(f.next_size(), (left + 511) / 512 * 512);
  EXPECT_EQ(f.next_size(), std::nullopt) << "from here on one at a time";
  EXPECT_EQ(f.take(Bytes(left)).value().size(), left);
  EXPECT_EQ(f.next_size(), kPacket);
  EXPECT_TRUE(f.take(link::encode_header(greeting(), link::kVersionChecksum)));
}

TEST(UsbFraming, AfterAStallTheRestIsAskedForAgain) {
  auto f = after_header(140'000);
  for (const std::size_t n : {65536, 65536, 9216, 512}) EXPECT_EQ(f.next_size(), n);
  for (const std::size_t n : {1024, 0, 0, 0}) EXPECT_EQ(f.take(Bytes(n)).value().size(), n);
  f.restart();
  for (const std::size_t n : {65536, 65536, 8192, 512}) EXPECT_EQ(f.next_size(), n);
}

TEST(UsbFraming, DamageAfterTheGreetingIsNamed) {
  for (const std::size_t length : {std::size_t{23}, std::size_t{25}, std::size_t{24}}) {
    UsbFramer f(kPacket);
    ASSERT_TRUE(f.take(wire(packet(link::kAuth, 1, 0))));
    EXPECT_FALSE(f.take(Bytes(length, 0x11))) << length;
  }
  UsbFramer f(kPacket);
  ASSERT_TRUE(f.take(link::encode_header(greeting(), link::kVersionChecksum)));
  EXPECT_EQ(f.next_size(), kPacket);
  EXPECT_FALSE(f.take(Bytes(400))) << "more payload than announced";
}

/// One interface of one setting.
struct Descriptor {
  explicit Descriptor(std::uint8_t type = 0xff, std::uint8_t sub = 0x42, std::uint8_t protocol = 0x01) {
    const auto end = [](std::uint8_t address, std::uint8_t kind) {
      libusb_endpoint_descriptor d{};
      d.bEndpointAddress = address;
      d.bmAttributes = kind;
      d.wMaxPacketSize = 512;
      return d;
    };
    ends = {end(0x83, 3), end(0x81, 2), end(0x02, 2)};
    setting.bInterfaceNumber = 5;
    setting.bInterfaceClass = type;
    setting.bInterfaceSubClass = sub;
    setting.bInterfaceProtocol = protocol;
  }
  std::optional<UsbInterface> find(std::uint8_t endpoints = 3) {
    setting.bNumEndpoints = endpoints;
    setting.endpoint = ends.data();
    interface_.altsetting = &setting;
    interface_.num_altsetting = 1;
    config.interface = &interface_;
    config.bNumInterfaces = 1;
    return find_debug_interface(config);
  }
  std::vector<libusb_endpoint_descriptor> ends;
  libusb_interface_descriptor setting{};
  libusb_interface interface_{};
  libusb_config_descriptor config{};
};

TEST(UsbDescriptors, OnlyTheDebugInterfaceIsTaken) {
  UsbInterface expected;
  expected.number = 5;
  expected.in = 0x81, expected.out = 0x02;
  expected.max_packet_in = expected.max_packet_out = 512;
  EXPECT_EQ(Descriptor().find(), expected);
  EXPECT_FALSE(Descriptor(0x08).find()) << "mass storage";
  EXPECT_FALSE(Descriptor(0xff, 0x43).find());
  EXPECT_FALSE(Descriptor(0xff, 0x42, 0x03).find()) << "the boot loader's protocol";
  EXPECT_FALSE(Descriptor().find(2)) << "no way out";
  EXPECT_FALSE(Descriptor().find(0));
}

TEST(UsbErrors, SayWhatToDo) {
  EXPECT_EQ(usb_error(LIBUSB_ERROR_ACCESS).code, ErrorCode::refused);
  EXPECT_NE(usb_error(LIBUSB_ERROR_ACCESS)
                .next.find(R"(SUBSYSTEM=="usb", ENV{ID_USB_INTERFACES}=="*:ff4201:*", TAG+="uaccess")"),
            std::string::npos);
  EXPECT_EQ(usb_error(LIBUSB_ERROR_BUSY).code, ErrorCode::refused);
  EXPECT_NE(usb_error(LIBUSB_ERROR_BUSY).what.find("another debug-link server"), std::string::npos);
  EXPECT_EQ(usb_error(LIBUSB_ERROR_NO_DEVICE).code, ErrorCode::link_lost);
  EXPECT_EQ(usb_error(LIBUSB_ERROR_NOT_FOUND).code, ErrorCode::not_found);
  EXPECT_EQ(usb_error(LIBUSB_ERROR_IO).code, ErrorCode::io);
}

TEST(UsbErrors, NoSuchPhoneIsNotFoundOrThereIsNoUsbHere) {
  net::io_context io;
  const auto t = run(io, link::connect_usb("no phone has this serial", 1s));
  ASSERT_FALSE(t);
  // refused: there is a phone, and this user may not ask for its serial
  EXPECT_TRUE(t.error().code == ErrorCode::not_found || t.error().code == ErrorCode::unsupported ||
              t.error().code == ErrorCode::refused)
      << t.error().message();
}
}  // namespace
}  // namespace hb::test
