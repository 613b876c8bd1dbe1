/// The only place that turns device text into typed readings, and the closed list of commands that may be
/// sent. Text that is not kept never leaves the parser. A missing key is "not reported" (nullopt), never a
/// failure; a forced state is said so, so that a check can refuse to judge it.
///
/// Threads: a Phone lives on its link's strand. Deadlines: each call has one of its own (wall time).
/// Errors of every call: link_lost, timed_out, cancelled, bad_format (parser and line named),
/// unsupported (this phone does not offer it: "not tested").
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/gate.hpp"
#include "harness/link/link.hpp"
#include "harness/net/asio.hpp"
#include "harness/phone/charge_status.hpp"

namespace hb::phone {

// ------------------------------------------------------------------------------------------- readings
// All value types hold numbers and closed enumerations only.

/// `dumpsys battery` (AOSP BatteryService.java).
struct BatteryReading {
  std::optional<double> uptime_s;  ///< the phone's own clock, /proc/uptime, read in the same command
  std::optional<bool> ac, usb, wireless, dock;
  std::optional<double> max_charging_ma, max_charging_mv;
  std::optional<double> charge_counter_mah;
  std::optional<int> level_pct;
  std::optional<double> voltage_mv;
  std::optional<double> temperature_c;
  std::optional<ChargeStatus> status;
  std::optional<int> health;  ///< 1 unknown 2 good 3 overheat 4 dead 5 over voltage 6 failure 7 cold
  std::optional<bool> present;
  bool updates_stopped = false;  ///< frozen or faked by `cmd battery set`: must not be judged
};

/// One directory of /sys/class/power_supply. Units are converted; signs are as reported (see the check).
struct CellReading {
  std::optional<double> uptime_s;
  bool readable = false;  ///< false: permission denied or no such supply
  std::optional<bool> present;
  std::optional<double> voltage_mv, current_ma, temperature_c, charge_counter_mah, charge_full_mah,
      charge_full_design_mah;
  std::optional<int> cycle_count, capacity_pct;
  std::optional<ChargeStatus> status;
};

/// A charger's directory of /sys/class/power_supply. The current is signed as reported.
struct SupplyReading {
  std::optional<double> uptime_s;
  std::optional<bool> online;  ///< nullopt: not readable
  std::optional<double> voltage_mv, current_ma, current_max_ma;
};

/// A radio's switch in the settings (of NFC: not told), its state as the system reports it, and for Wi-Fi the
/// level at which the joined network comes in. No name, address or number of anything.
struct RadioReading {
  std::optional<bool> switched_on, up;
  std::optional<int> level_dbm;
};

/// The SIM slots, by their closed words. A slot that says nothing yet (unknown, not ready) is not counted.
struct SimReading {
  int told = 0;    ///< slots that say whether they have a card
  int read = 0;    ///< of them: with a card that answers, be it locked
  int loaded = 0;  ///< of them: with a card that was read to its end
};
/// Reference signal received power of the cell in use, by technology, of the first slot that tells one.
struct MobileReading {
  std::optional<int> lte_dbm, nr_dbm;
};

struct SensorEvent {
  double t_s = 0;  ///< seconds since boot
  std::vector<double> values;
  friend bool operator==(const SensorEvent&, const SensorEvent&) = default;
};
/// Recent events of one sensor type, oldest first, each time once. Of several sensors of the type: the first
/// listed one that shows events.
struct SensorReading {
  bool listed = false;  ///< the phone has such a sensor
  bool masked = false;  ///< events shown, values masked
  std::vector<SensorEvent> events;
};

/// An input device that reports type-B contacts, from `getevent -lp`. `node` is the N of /dev/input/eventN.
struct TouchDevice {
  int node = -1;
  int max_x = 0, max_y = 0, max_slot = 0;
};
/// An input device with side keys or a lid switch. Only the codes of volume and power are kept
/// (input-event-codes.h: 114 volume down, 115 volume up, 116 power); a keyboard's other keys are not.
struct KeyDevice {
  int node = -1;
  std::vector<std::uint16_t> keys;  ///< reported by this device, ascending
  std::vector<std::uint16_t> down;  ///< of them: held down when the list was read
  bool lid = false;                 ///< reports SW_LID
};
struct InputDevices {
  std::vector<TouchDevice> touch;
  std::vector<KeyDevice> keys;  ///< by node
  bool has_lid_switch = false;
  std::optional<bool> lid_closed;
};

/// One line of `getevent -lt` for one device.
struct InputEvent {
  double t_s = 0;
  std::uint16_t type = 0, code = 0;
  std::int32_t value = 0;
  friend bool operator==(const InputEvent&, const InputEvent&) = default;
};

/// Committed and forced device state (`dumpsys device_state`); names are the vendor's, so only the closed
/// meaning is kept.
enum class FoldState { unknown, closed, half_open, open };
struct DeviceState {
  FoldState committed = FoldState::unknown;
  bool forced = false;
};

/// Temperatures from the HAL's current list only: name and type agree, else the name, else the type alone;
/// the hottest of the best class.
struct ThermalReading {
  bool forced = false;
  std::optional<double> skin_c, battery_c;
  int status = 0;
};

struct CameraCount {
  int total = 0, back = 0, front = 0;
  int with_light = 0;  ///< that list a flash unit
};

/// The panel's own size, whether or not somebody overrode it.
struct DisplaySize {
  int width_px = 0, height_px = 0;
  bool overridden = false;
};

/// The model as the phone names it, for comparing with a profile. Compared, then dropped: only
/// `matches` leaves harness/phone.
struct Identity {
  std::string tag;   ///< 16 hex digits: HMAC-SHA-256(shop key, serial), truncated
  std::string tail;  ///< last 4 characters of the serial, upper case letters and digits only
};

// ------------------------------------------------------------------------------------------- parsers
// Pure, lenient by key, total and linear in any input (one fuzz target for all). Public for tests and replay.
// Of equal keys the first wins, readable or not. Errors: unsupported when the phone itself says that it has
// no such service; bad_format when nothing was recognised, and also when the line that tells a forced state
// from a free one is missing or unreadable (device state, thermal): such a text is not judged.

[[nodiscard]] Result<BatteryReading> parse_battery(std::string_view text);
/// Text is `KEY=VALUE` lines, one an attribute, as the closed command prints them.
[[nodiscard]] Result<CellReading> parse_cell(std::string_view text);
[[nodiscard]] Result<SupplyReading> parse_supply(std::string_view text);
/// Mbit/s of the word in /sys/class/udc/NAME/current_speed; 0: no link.
[[nodiscard]] Result<double> parse_link_speed(std::string_view text);
[[nodiscard]] Result<RadioReading> parse_wifi(std::string_view text);
[[nodiscard]] Result<RadioReading> parse_bluetooth(std::string_view text);
[[nodiscard]] Result<RadioReading> parse_nfc(std::string_view text);
[[nodiscard]] Result<SimReading> parse_sim(std::string_view text);
[[nodiscard]] Result<MobileReading> parse_mobile(std::string_view text);
/// How many sensors of a finger the biometric service lists; of a face, an iris and the like none.
[[nodiscard]] Result<int> parse_fingerprint_readers(std::string_view text);
[[nodiscard]] Result<SensorReading> parse_sensor_events(std::string_view sensorservice_text, int type_number);
[[nodiscard]] Result<InputDevices> parse_input_devices(std::string_view getevent_lp_text);
[[nodiscard]] Result<DeviceState> parse_device_state(std::string_view text);
[[nodiscard]] Result<ThermalReading> parse_thermal(std::string_view text);
[[nodiscard]] Result<CameraCount> parse_cameras(std::string_view text);
[[nodiscard]] Result<DisplaySize> parse_wm_size(std::string_view text);

/// Incremental parser of `getevent -lt DEVICE` (also -t): feed any cut of the text. A line of more than 512
/// bytes is dropped whole and counted once. Of keys only touch and pen buttons, volume and power are kept:
/// what was typed on a keyboard is dropped, uncounted.
class InputEventParser {
 public:
  /// Appends whole lines' events to `into`. Unparsable lines are counted, not kept.
  void feed(std::string_view text, std::vector<InputEvent>& into);
  [[nodiscard]] std::uint64_t bad_lines() const noexcept { return bad_; }

 private:
  std::string rest_;
  bool overlong_ = false;
  std::uint64_t bad_ = 0;
};

// ------------------------------------------------------------------------------------------- commands

/// One entry of the closed list. Nothing else can be sent: Phone takes commands only from here.
struct CommandInfo {
  Term id;
  Term text;      ///< with {} where a bounded number or a screened path goes
  Term reads;     ///< what it is for
  Term versions;  ///< Android versions that it fits
  Term personal;  ///< what personal content its output can hold, or "none"
  Term kept;      ///< fields that leave the parser
};
[[nodiscard]] const std::vector<CommandInfo>& command_list();

/// Live stream of one input device: a panel, or side keys and the lid switch. read() waits until some events
/// came or `wait` (wall time) passed (then empty). Errors: unsupported when it ended without any event,
/// link_lost when it ended later. Not to be destroyed while read() is under way.
class TouchStream {
 public:
  virtual ~TouchStream() = default;
  [[nodiscard]] virtual net::awaitable<Result<std::vector<InputEvent>>> read(net::milliseconds wait) = 0;
  /// Interrupts the reader on the phone and gives what still came until it had ended. timed_out: it did not
  /// end within `limit` (wall time): the stream is stuck, and what was read of it may lack events.
  [[nodiscard]] virtual net::awaitable<Result<std::vector<InputEvent>>> finish(net::milliseconds limit) = 0;
  [[nodiscard]] virtual std::uint64_t bad_lines() const = 0;
  virtual void close() = 0;
};

class Phone {
 public:
  virtual ~Phone() = default;
  [[nodiscard]] static std::unique_ptr<Phone> on(std::shared_ptr<link::Link> link);

  /// Keyed tag and tail from the serial; the serial itself is wiped before this returns.
  [[nodiscard]] virtual net::awaitable<Result<Identity>> identity(Bytes shop_key) = 0;
  /// True when the phone's own ro.product.device and ro.product.model equal these.
  [[nodiscard]] virtual net::awaitable<Result<bool>> is_model(std::string device, std::string model) = 0;
  [[nodiscard]] virtual net::awaitable<Result<int>> sdk() = 0;

  [[nodiscard]] virtual net::awaitable<Result<double>> uptime_s() = 0;
  [[nodiscard]] virtual net::awaitable<Result<BatteryReading>> battery() = 0;
  /// `supply`: directory name under /sys/class/power_supply, from the profile ([A-Za-z0-9_-]{1,32}).
  [[nodiscard]] virtual net::awaitable<Result<CellReading>> cell(std::string supply) = 0;
  /// The same for a charger's supply.
  [[nodiscard]] virtual net::awaitable<Result<SupplyReading>> supply(std::string supply);
  /// `udc`: directory name under /sys/class/udc, from the profile ([A-Za-z0-9_-][A-Za-z0-9._-]{0,31}).
  [[nodiscard]] virtual net::awaitable<Result<double>> link_mbit_s(std::string udc);
  [[nodiscard]] virtual net::awaitable<Result<RadioReading>> wifi();
  [[nodiscard]] virtual net::awaitable<Result<RadioReading>> bluetooth();
  [[nodiscard]] virtual net::awaitable<Result<RadioReading>> nfc();
  [[nodiscard]] virtual net::awaitable<Result<SimReading>> sim();
  [[nodiscard]] virtual net::awaitable<Result<MobileReading>> mobile();
  [[nodiscard]] virtual net::awaitable<Result<int>> fingerprint_readers();
  /// Starts `workers` busy loops that end by themselves after `seconds` (1..60, 1..8). Returns when the phone
  /// says that they run.
  [[nodiscard]] virtual net::awaitable<Result<void>> start_load(int seconds, int workers) = 0;
  [[nodiscard]] virtual net::awaitable<Result<void>> stop_load() = 0;
  /// Starts the vibration motor for `ms` (1..2000) at full strength and returns at once. That it was started
  /// does not say that it moves.
  [[nodiscard]] virtual net::awaitable<Result<void>> vibrate(int ms);
  [[nodiscard]] virtual net::awaitable<Result<SensorReading>> sensor(int type_number) = 0;
  [[nodiscard]] virtual net::awaitable<Result<InputDevices>> input_devices() = 0;
  /// Streams any input node that input_devices() named; what may not leave InputEventParser does not.
  [[nodiscard]] virtual net::awaitable<Result<std::unique_ptr<TouchStream>>> touch(int node) = 0;
  [[nodiscard]] virtual net::awaitable<Result<DeviceState>> device_state() = 0;
  [[nodiscard]] virtual net::awaitable<Result<ThermalReading>> thermal() = 0;
  [[nodiscard]] virtual net::awaitable<Result<CameraCount>> cameras() = 0;
  [[nodiscard]] virtual net::awaitable<Result<DisplaySize>> display_size() = 0;
  [[nodiscard]] virtual net::awaitable<Result<void>> wake() = 0;
  /// Opens http://HOST.localhost:PORT/TOKEN/ in the default browser. `host`, `token`: [a-z0-9]{1,63}.
  [[nodiscard]] virtual net::awaitable<Result<void>> open_page(std::string host, std::uint16_t port,
                                                               std::string token) = 0;
  [[nodiscard]] virtual link::Link& link() = 0;
};

}  // namespace hb::phone
