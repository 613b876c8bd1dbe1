#include "harness/phone/phone.hpp"

#include <sodium.h>

#include <algorithm>

#include "detail/calls.hpp"
#include "detail/commands.hpp"
#include "detail/scan.hpp"
#include "harness/base/text.hpp"

namespace hb::phone {
namespace {
using namespace detail;
using Wall = std::chrono::steady_clock;

/// Sends and parses; only what `parse` returns survives.
template <class T, class Parse>
net::awaitable<Result<T>> reading(LinkPtr link, Command command, net::milliseconds deadline, Parse parse) {
  auto r = co_await send(std::move(link), std::move(command), deadline);
  if (!r) co_return std::move(r).error();
  // A program that only complained did so on the other stream.
  if (trim(r->out).empty() && !trim(r->err).empty()) co_return parse(std::string_view(r->err));
  co_return parse(std::string_view(r->out));
}

Result<int> parse_sdk(std::string_view text) {
  const auto n = whole_in(trim(text), 1, 999);
  if (!n) return unreadable("system version", 1);
  return *n;
}

Result<double> parse_uptime(std::string_view text) {
  const auto t = uptime_line(text.substr(0, text.find('\n')));
  if (!t) return nothing_found("uptime", text);
  return *t;
}

bool alphanumeric(char c) {
  return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

Result<Identity> identity_of(std::string_view serial, ByteView shop_key) {
  const auto allowed = [](char c) { return c > ' ' && c < 0x7f; };
  if (serial.empty() || serial.size() > 128 || !std::all_of(serial.begin(), serial.end(), allowed) ||
      serial == "unknown")
    return not_offered("a serial number");
  Identity id;
  id.tag = hex(ByteView(hmac_sha256(shop_key, as_bytes(serial))).first(8));
  // Never more than half of a short serial.
  const auto letters = static_cast<std::size_t>(std::count_if(serial.begin(), serial.end(), alphanumeric));
  const auto keep = std::min<std::size_t>(4, letters / 2);
  for (auto c = serial.rbegin(); c != serial.rend() && id.tail.size() < keep; ++c)
    if (alphanumeric(*c)) id.tail.push_back(*c >= 'a' && *c <= 'z' ? static_cast<char>(*c - 'a' + 'A') : *c);
  std::reverse(id.tail.begin(), id.tail.end());
  return id;
}

net::awaitable<Result<Identity>> read_identity(LinkPtr link, Bytes shop_key) {
  if (shop_key.empty())
    co_return Error{ErrorCode::invalid_argument, "the shop's key is empty", "phone identity",
                    "set the bench up first"};
  auto r = co_await send(std::move(link), Command::plain(CommandId::serial), kShort);
  if (!r) co_return std::move(r).error();
  auto id = identity_of(trim(r->out), shop_key);
  sodium_memzero(r->out.data(), r->out.size());
  sodium_memzero(shop_key.data(), shop_key.size());
  co_return id;
}

/// A property is one line. Anything else is a damaged answer and says nothing of the model.
Result<std::string> one_line(const link::ShellOutput& output) {
  const auto text = trim(output.out);
  if (text.empty() || text.find('\n') != std::string_view::npos)
    return Error{ErrorCode::bad_format, "the phone's name of its model came damaged", "phone",
                 "Check the cable, then try again."};
  return std::string(text);
}

net::awaitable<Result<bool>> same_model(LinkPtr link, std::string device, std::string model) {
  auto d = co_await send(link, Command::plain(CommandId::device), kShort);
  if (!d) co_return std::move(d).error();
  auto m = co_await send(link, Command::plain(CommandId::model), kShort);
  if (!m) co_return std::move(m).error();
  const auto says_device = one_line(*d), says_model = one_line(*m);
  if (!says_device) co_return says_device.error();
  if (!says_model) co_return says_model.error();
  co_return *says_device == device&&* says_model == model;
}

net::awaitable<Result<CellReading>> read_cell(LinkPtr link, std::string supply) {
  auto command = Command::cell(supply);
  if (!command) co_return std::move(command).error();
  auto r = co_await send(std::move(link), *std::move(command), kShort);
  if (!r) co_return std::move(r).error();
  if (r->exit_code == 3) co_return CellReading{};
  co_return parse_cell(r->out);
}

net::awaitable<Result<SupplyReading>> read_supply(LinkPtr link, std::string supply) {
  auto command = Command::supply(supply);
  if (!command) co_return std::move(command).error();
  auto r = co_await send(std::move(link), *std::move(command), kShort);
  if (!r) co_return std::move(r).error();
  if (r->exit_code == 3) co_return SupplyReading{};
  co_return parse_supply(r->out);
}

net::awaitable<Result<double>> read_link_speed(LinkPtr link, std::string udc) {
  auto command = Command::link_speed(udc);
  if (!command) co_return std::move(command).error();
  auto r = co_await send(std::move(link), *std::move(command), kShort);
  if (!r) co_return std::move(r).error();
  if (r->exit_code != 0) co_return not_offered("the speed of its data link");
  co_return parse_link_speed(r->out);
}

// ---------------------------------------------------------------------------------- touch stream

constexpr std::uint8_t kInterrupt = 0x03;  ///< a terminal's VINTR, control-C

class LiveTouch final : public TouchStream {
 public:
  LiveTouch(LinkPtr link, std::unique_ptr<link::Stream> stream)
      : link_(std::move(link)), stream_(std::move(stream)) {}
  net::awaitable<Result<std::vector<InputEvent>>> read(net::milliseconds wait) override {
    std::vector<InputEvent> events;
    const auto until = Wall::now() + wait;
    for (;;) {
      const auto left = std::chrono::ceil<net::milliseconds>(until - Wall::now());
      auto bytes = co_await stream_->read(std::max(left, net::milliseconds(0)));
      if (!bytes && bytes.error().code == ErrorCode::timed_out) co_return events;
      if (!bytes) co_return std::move(bytes).error();
      if (bytes->empty()) co_return ended();
      parser_.feed(as_text(*bytes), events);
      seen_ = seen_ || !events.empty();
      if (!events.empty() || Wall::now() >= until) co_return events;
    }
  }
  net::awaitable<Result<std::vector<InputEvent>>> finish(net::milliseconds limit) override {
    const Error stuck{ErrorCode::timed_out, "the stream of touch events is stuck", "touch stream",
                      "check the cable and repeat the check"};
    std::vector<InputEvent> events;
    const auto until = Wall::now() + limit;
    Bytes interrupt(1, kInterrupt);
    auto sent = co_await stream_->write(std::move(interrupt), limit);
    if (!sent && sent.error().code == ErrorCode::timed_out) co_return stuck;
    if (!sent && sent.error().code != ErrorCode::refused) co_return std::move(sent).error();
    for (;;) {
      const auto left = std::chrono::ceil<net::milliseconds>(until - Wall::now());
      auto bytes = co_await stream_->read(std::max(left, net::milliseconds(0)));
      if (!bytes && bytes.error().code == ErrorCode::timed_out) co_return stuck;
      if (!bytes) co_return std::move(bytes).error();
      if (bytes->empty()) co_return events;
      parser_.feed(as_text(*bytes), events);
    }
  }
  std::uint64_t bad_lines() const override { return parser_.bad_lines(); }
  void close() override { stream_->close(); }

 private:
  [[nodiscard]] Error ended() const {
    if (!seen_) return not_offered("its touch events to the bench");
    return {ErrorCode::link_lost, "the stream of touch events ended", "touch stream",
            "check the cable and repeat the check"};
  }
  LinkPtr link_;
  std::unique_ptr<link::Stream> stream_;
  InputEventParser parser_;
  bool seen_ = false;
};

net::awaitable<Result<std::unique_ptr<TouchStream>>> open_touch(LinkPtr link, int node) {
  auto command = Command::touch(node);
  if (!command) co_return std::move(command).error();
  auto stream = co_await link->shell_pty(command->text(), kShort);
  if (!stream) co_return std::move(stream).error();
  std::unique_ptr<TouchStream> live = std::make_unique<LiveTouch>(std::move(link), *std::move(stream));
  co_return live;
}

// ---------------------------------------------------------------------------------- the phone

/// Each call hands its own share of the link to a free coroutine, so that a Phone may go while a call runs.
class LinkedPhone final : public Phone {
 public:
  explicit LinkedPhone(LinkPtr link) : link_(std::move(link)) {}
  net::awaitable<Result<Identity>> identity(Bytes key) override {
    return read_identity(link_, std::move(key));
  }
  net::awaitable<Result<bool>> is_model(std::string device, std::string model) override {
    return same_model(link_, std::move(device), std::move(model));
  }
  net::awaitable<Result<int>> sdk() override {
    return reading<int>(link_, Command::plain(CommandId::sdk), kShort, parse_sdk);
  }
  net::awaitable<Result<double>> uptime_s() override {
    return reading<double>(link_, Command::plain(CommandId::uptime), kShort, parse_uptime);
  }
  net::awaitable<Result<BatteryReading>> battery() override {
    return reading<BatteryReading>(link_, Command::plain(CommandId::battery), kDump, parse_battery);
  }
  net::awaitable<Result<CellReading>> cell(std::string supply) override {
    return read_cell(link_, std::move(supply));
  }
  net::awaitable<Result<SupplyReading>> supply(std::string supply) override {
    return read_supply(link_, std::move(supply));
  }
  net::awaitable<Result<double>> link_mbit_s(std::string udc) override {
    return read_link_speed(link_, std::move(udc));
  }
  net::awaitable<Result<RadioReading>> wifi() override {
    return reading<RadioReading>(link_, Command::plain(CommandId::wifi), kDump, parse_wifi);
  }
  net::awaitable<Result<RadioReading>> bluetooth() override {
    return reading<RadioReading>(link_, Command::plain(CommandId::bluetooth), kDump, parse_bluetooth);
  }
  net::awaitable<Result<RadioReading>> nfc() override {
    return reading<RadioReading>(link_, Command::plain(CommandId::nfc), kDump, parse_nfc);
  }
  net::awaitable<Result<SimReading>> sim() override {
    return reading<SimReading>(link_, Command::plain(CommandId::sim), kShort, parse_sim);
  }
  net::awaitable<Result<MobileReading>> mobile() override {
    return reading<MobileReading>(link_, Command::plain(CommandId::mobile), kDump, parse_mobile);
  }
  net::awaitable<Result<int>> fingerprint_readers() override {
    return reading<int>(link_, Command::plain(CommandId::fingerprint), kDump, parse_fingerprint_readers);
  }
  net::awaitable<Result<void>> start_load(int seconds, int workers) override {
    return run_load(link_, seconds, workers);
  }
  net::awaitable<Result<void>> stop_load() override { return end_load(link_); }
  net::awaitable<Result<void>> vibrate(int ms) override { return run_motor(link_, ms); }
  net::awaitable<Result<SensorReading>> sensor(int type) override {
    return reading<SensorReading>(link_, Command::plain(CommandId::sensors), kDump,
                                  [type](std::string_view text) { return parse_sensor_events(text, type); });
  }
  net::awaitable<Result<InputDevices>> input_devices() override {
    return reading<InputDevices>(link_, Command::plain(CommandId::input_devices), kShort,
                                 parse_input_devices);
  }
  net::awaitable<Result<std::unique_ptr<TouchStream>>> touch(int node) override {
    return open_touch(link_, node);
  }
  net::awaitable<Result<DeviceState>> device_state() override {
    return reading<DeviceState>(link_, Command::plain(CommandId::device_state), kDump, parse_device_state);
  }
  net::awaitable<Result<ThermalReading>> thermal() override {
    return reading<ThermalReading>(link_, Command::plain(CommandId::thermal), kDump, parse_thermal);
  }
  net::awaitable<Result<CameraCount>> cameras() override {
    return reading<CameraCount>(link_, Command::plain(CommandId::cameras), kDump, parse_cameras);
  }
  net::awaitable<Result<DisplaySize>> display_size() override {
    return reading<DisplaySize>(link_, Command::plain(CommandId::display_size), kShort, parse_wm_size);
  }
  net::awaitable<Result<void>> wake() override { return press_wake(link_); }
  net::awaitable<Result<void>> open_page(std::string host, std::uint16_t port, std::string token) override {
    return start_page(link_, std::move(host), port, std::move(token));
  }
  link::Link& link() override { return *link_; }

 private:
  LinkPtr link_;
};
}  // namespace

net::awaitable<Result<SupplyReading>> Phone::supply(std::string) { co_return not_offered("its supplies"); }
net::awaitable<Result<double>> Phone::link_mbit_s(std::string) { co_return not_offered("its link speed"); }
net::awaitable<Result<void>> Phone::vibrate(int) { co_return not_offered("a vibration motor"); }
net::awaitable<Result<RadioReading>> Phone::wifi() { co_return not_offered("its Wi-Fi state"); }
net::awaitable<Result<RadioReading>> Phone::bluetooth() { co_return not_offered("its Bluetooth state"); }
net::awaitable<Result<RadioReading>> Phone::nfc() { co_return not_offered("its NFC state"); }
net::awaitable<Result<SimReading>> Phone::sim() { co_return not_offered("its SIM slots"); }
net::awaitable<Result<MobileReading>> Phone::mobile() { co_return not_offered("its mobile network"); }
net::awaitable<Result<int>> Phone::fingerprint_readers() { co_return not_offered("its biometric sensors"); }

std::unique_ptr<Phone> Phone::on(std::shared_ptr<link::Link> link) {
  return std::make_unique<LinkedPhone>(std::move(link));
}
}  // namespace hb::phone
