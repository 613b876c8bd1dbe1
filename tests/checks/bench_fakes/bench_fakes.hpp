/// A phone, hands and a clock for the tests of the checks: time moves only when a check waits (Clock) or
/// sends a command (20 ms each). What the phone says is a set of functions of that time. Single-threaded.
#pragma once

#include <algorithm>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "checks/check.hpp"
#include "harness/phone/phone.hpp"

namespace hb::fakes {

using net::awaitable;

struct Time {
  double s = 1000;  ///< since the phone's boot
  std::function<void(double)> on_move;
  void move(double d) {
    s += d;
    if (on_move) on_move(s);
  }
};

class FakeLink final : public link::Link {
 public:
  std::string kind = "tcp";
  std::map<std::string, std::string> facts;
  const std::map<std::string, std::string>& banner() const override { return facts; }
  bool has_feature(std::string_view) const override { return true; }
  std::string_view transport_kind() const override { return kind; }
  bool alive() const override { return true; }
  awaitable<Result<std::unique_ptr<link::Stream>>> open_stream(std::string, net::milliseconds) override {
    co_return no();
  }
  awaitable<Result<link::ShellOutput>> shell(std::string, net::milliseconds, std::size_t) override {
    co_return no();
  }
  awaitable<Result<std::unique_ptr<link::Stream>>> shell_pty(std::string, net::milliseconds) override {
    co_return no();
  }
  awaitable<Result<std::uint16_t>> reverse(std::uint16_t, std::uint16_t, Acceptor,
                                           net::milliseconds) override {
    co_return no();
  }
  awaitable<Result<void>> remove_reverse(std::uint16_t, net::milliseconds) override { co_return no(); }
  void close() override {}

 private:
  static Error no() { return {ErrorCode::unsupported, "not in this test", "", ""}; }
};

class FakePhone final : public phone::Phone {
 public:
  explicit FakePhone(Time& time) : time_(time) {}

  std::function<Result<phone::BatteryReading>()> on_battery;
  std::function<Result<phone::CellReading>(const std::string&)> on_cell;
  std::function<Result<phone::SupplyReading>(const std::string&)> on_supply;
  std::function<Result<double>()> on_link_speed;
  std::function<Result<phone::RadioReading>()> on_wifi, on_bluetooth, on_nfc;
  std::function<Result<phone::SimReading>()> on_sim;
  std::function<Result<phone::MobileReading>()> on_mobile;
  std::function<Result<int>()> on_fingerprint_readers;
  std::function<Result<phone::CameraCount>()> on_cameras;
  std::function<Result<phone::SensorReading>()> on_sensor;
  std::function<Result<phone::SensorReading>(int type)> on_sensor_type;  ///< asked first
  std::function<Result<phone::InputDevices>()> on_input_devices;
  std::function<Result<std::unique_ptr<phone::TouchStream>>(int node)> on_touch;
  std::function<Result<phone::DeviceState>()> on_state;
  std::function<Result<phone::ThermalReading>()> on_thermal;
  std::function<void(int seconds, int workers)> on_load;
  std::function<void(int ms)> on_vibrate;
  std::function<void()> on_stop_load;
  FakeLink fake_link;
  std::optional<int> fail_at;  ///< the command of this number, from 0, loses the link
  int commands = 0;
  std::vector<std::string> calls;

  awaitable<Result<phone::Identity>> identity(Bytes) override { co_return no(); }
  awaitable<Result<bool>> is_model(std::string, std::string) override { co_return no(); }
  awaitable<Result<int>> sdk() override { co_return no(); }
  awaitable<Result<double>> uptime_s() override {
    if (auto e = spend("uptime")) co_return *std::move(e);
    co_return time_.s;
  }
  awaitable<Result<phone::BatteryReading>> battery() override {
    if (auto e = spend("battery")) co_return *std::move(e);
    if (!on_battery) co_return no();
    co_return on_battery();
  }
  awaitable<Result<phone::CellReading>> cell(std::string supply) override {
    if (auto e = spend("cell")) co_return *std::move(e);
    if (!on_cell) co_return no();
    co_return on_cell(supply);
  }
  awaitable<Result<phone::SupplyReading>> supply(std::string supply) override {
    if (auto e = spend("supply")) co_return *std::move(e);
    if (!on_supply) co_return no();
    co_return on_supply(supply);
  }
  awaitable<Result<double>> link_mbit_s(std::string) override {
    if (auto e = spend("link_mbit_s")) co_return *std::move(e);
    if (!on_link_speed) co_return no();
    co_return on_link_speed();
  }
  awaitable<Result<void>> vibrate(int ms) override {
    if (auto e = spend("vibrate")) co_return *std::move(e);
    if (!on_vibrate) co_return no();
    on_vibrate(ms);
    co_return Result<void>{};
  }
  awaitable<Result<phone::RadioReading>> wifi() override {
    if (auto e = spend("wifi")) co_return *std::move(e);
    if (!on_wifi) co_return no();
    co_return on_wifi();
  }
  awaitable<Result<phone::RadioReading>> bluetooth() override {
    if (auto e = spend("bluetooth")) co_return *std::move(e);
    if (!on_bluetooth) co_return no();
    co_return on_bluetooth();
  }
  awaitable<Result<phone::RadioReading>> nfc() override {
    if (auto e = spend("nfc")) co_return *std::move(e);
    if (!on_nfc) co_return no();
    co_return on_nfc();
  }
  awaitable<Result<phone::SimReading>> sim() override {
    if (auto e = spend("sim")) co_return *std::move(e);
    if (!on_sim) co_return no();
    co_return on_sim();
  }
  awaitable<Result<phone::MobileReading>> mobile() override {
    if (auto e = spend("mobile")) co_return *std::move(e);
    if (!on_mobile) co_return no();
    co_return on_mobile();
  }
  awaitable<Result<int>> fingerprint_readers() override {
    if (auto e = spend("fingerprint_readers")) co_return *std::move(e);
    if (!on_fingerprint_readers) co_return no();
    co_return on_fingerprint_readers();
  }
  awaitable<Result<void>> start_load(int seconds, int workers) override {
    if (auto e = spend("start_load")) co_return *std::move(e);
    if (on_load) on_load(seconds, workers);
    co_return Result<void>{};
  }
  awaitable<Result<void>> stop_load() override {
    calls.emplace_back("stop_load");  // asked for even when the link is gone
    if (auto e = spend("stopping")) co_return *std::move(e);
    if (on_stop_load) on_stop_load();
    co_return Result<void>{};
  }
  awaitable<Result<phone::SensorReading>> sensor(int type) override {
    if (auto e = spend("sensor")) co_return *std::move(e);
    if (on_sensor_type) co_return on_sensor_type(type);
    if (!on_sensor) co_return no();
    co_return on_sensor();
  }
  awaitable<Result<phone::InputDevices>> input_devices() override {
    if (auto e = spend("input_devices")) co_return *std::move(e);
    if (!on_input_devices) co_return no();
    co_return on_input_devices();
  }
  awaitable<Result<std::unique_ptr<phone::TouchStream>>> touch(int node) override {
    if (auto e = spend("touch")) co_return *std::move(e);
    if (!on_touch) co_return no();
    co_return on_touch(node);
  }
  awaitable<Result<phone::DeviceState>> device_state() override {
    if (auto e = spend("device_state")) co_return *std::move(e);
    if (!on_state) co_return no();
    co_return on_state();
  }
  awaitable<Result<phone::ThermalReading>> thermal() override {
    if (auto e = spend("thermal")) co_return *std::move(e);
    if (!on_thermal) co_return no();
    co_return on_thermal();
  }
  awaitable<Result<phone::CameraCount>> cameras() override {
    if (!on_cameras) co_return no();
    co_return on_cameras();
  }
  awaitable<Result<phone::DisplaySize>> display_size() override { co_return no(); }
  awaitable<Result<void>> wake() override { co_return Result<void>{}; }
  awaitable<Result<void>> open_page(std::string, std::uint16_t, std::string) override { co_return no(); }
  link::Link& link() override { return fake_link; }

  [[nodiscard]] bool called(const std::string& what) const {
    return std::find(calls.begin(), calls.end(), what) != calls.end();
  }

 private:
  static Error no() { return {ErrorCode::unsupported, "this phone does not offer it", "", ""}; }
  std::optional<Error> spend(const char* what) {
    calls.emplace_back(what);
    time_.move(0.02);
    if (fail_at && commands++ >= *fail_at) return Error{ErrorCode::link_lost, "the cable was pulled", "", ""};
    return std::nullopt;
  }
  Time& time_;
};

class FakeClock final : public net::Clock {
 public:
  explicit FakeClock(Time& time) : time_(time) {}
  net::BenchTime now() const override {
    return std::chrono::duration_cast<net::BenchTime>(std::chrono::duration<double>(waited_s_));
  }
  awaitable<Result<void>> wait(std::chrono::milliseconds d) override {
    waited_s_ += static_cast<double>(d.count()) / 1000;
    time_.move(static_cast<double>(d.count()) / 1000);
    co_return Result<void>{};
  }
  Term kind() const override { return "test"; }

 private:
  Time& time_;
  double waited_s_ = 0;
};

/// Does each action in `seconds(action)`; `on_begin` lets a model move.
class FakeOperator final : public checks::Operator {
 public:
  explicit FakeOperator(Time& time) : time_(time) {}
  std::function<double(const checks::Action&)> seconds = [](const checks::Action&) { return 1.0; };
  std::function<void(const checks::Action&)> on_begin;
  std::function<Result<double>(const checks::Question&)> on_observe;
  std::vector<checks::Action> actions;
  int enoughs = 0;

  awaitable<Result<void>> begin(checks::Action action) override {
    actions.push_back(action);
    until_s_ = time_.s + seconds(action);
    if (on_begin) on_begin(action);
    co_return Result<void>{};
  }
  awaitable<Result<bool>> done() override { co_return time_.s >= until_s_; }
  awaitable<Result<double>> observe(checks::Question q) override {
    if (!on_observe) co_return Error{ErrorCode::unsupported, "no eyes in this test", "", ""};
    co_return on_observe(q);
  }
  awaitable<Result<void>> enough() override {
    ++enoughs;
    co_return Result<void>{};
  }

 private:
  Time& time_;
  double until_s_ = 0;
};

class NoProgress final : public checks::Progress {
 public:
  double last = 0;
  void step(double fraction, Term) override { last = fraction; }
};

struct Bench {
  Time time;
  FakePhone phone{time};
  FakeClock clock{time};
  FakeOperator hands{time};
  NoProgress progress;
  checks::Context context{phone, nullptr, clock, hands, progress};
  Bench() = default;
  Bench(const Bench&) = delete;
  Bench& operator=(const Bench&) = delete;
};

template <class T>
awaitable<void> keep(awaitable<Result<T>> work, std::optional<Result<T>>* into) {
  into->emplace(co_await std::move(work));
}
/// Runs a coroutine that waits for nothing outside this process.
template <class T>
Result<T> run(awaitable<Result<T>> work) {
  net::io_context io;
  std::optional<Result<T>> out;
  net::co_spawn(io, keep(std::move(work), &out), [](std::exception_ptr e) {
    if (e) std::rethrow_exception(e);
  });
  io.run();
  return std::move(out).value();
}

/// Deterministic noise, roughly normal with sd 1 (sum of twelve uniform numbers less 6).
class Noise {
 public:
  explicit Noise(std::uint64_t seed) : x_(seed * 2 + 1) {}
  double operator()() {
    double s = -6;
    for (int i = 0; i < 12; ++i) {
      x_ = x_ * 6364136223846793005u + 1442695040888963407u;
      s += static_cast<double>(x_ >> 11) / 9007199254740992.0;
    }
    return s;
  }

 private:
  std::uint64_t x_;
};

inline const checks::Measure* find(const checks::Measured& m, std::string_view key,
                                   const std::string& part = {}) {
  for (const auto& x : m.measures)
    if (x.key.view() == key && x.part.str() == part) return &x;
  return nullptr;
}

inline std::vector<std::string> finding_ids(const std::vector<checks::Finding>& f) {
  std::vector<std::string> out;
  for (const auto& x : f) out.push_back(x.id.str());
  return out;
}

/// Each finding as "id part"; of the one subject: "id ".
inline std::vector<std::string> named(const std::vector<checks::Finding>& f) {
  std::vector<std::string> out;
  for (const auto& x : f) out.push_back(x.id.str() + " " + x.part.str());
  return out;
}

/// A capture measured, judged and diagnosed, as the runner does it.
template <checks::CheckDefinition C>
Result<checks::CheckResult> judge(const typename C::Capture& capture, const typename C::Config& config,
                                  std::span<const checks::Limit> limits) {
  return checks::finish_result(
      C::needs(), C::measure(capture, config), limits,
      [&](std::span<const checks::Verdict> v) { return C::diagnose(v, capture, config); });
}
}  // namespace hb::fakes
