/// A phone, hands and a clock made for these tests: a panel that reports contacts after the kernel's type-B
/// protocol, swept by a finger that goes row by row and then along four guided strokes. Time moves only when
/// the check waits.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <random>
#include <vector>

#include "checks/touch_grid/touch_grid.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks::testing {

struct Spot {
  double x = 0, y = 0;  // mm
};

struct Panel {
  int node = 3;
  int max_x = 1079, max_y = 2639;
  double width_mm = 70, height_mm = 171.1;
  double rate_hz = 240;
  double noise_mm = 0.05;
  std::function<bool(Spot)> dead = [](Spot) { return false; };
  int ghosts_at_rest = 0;
  double stroke_pitch_mm = 4;
  double edge_kept_mm = 0;           ///< the finger stays this far from the edges
  std::function<bool(double)> skip;  ///< the hand forgets the stroke at this y
  bool guided = true, two_fingers = true, felt = true;
  double drop_at_s = -1;  ///< seconds into the sweep: one SYN_DROPPED, `drop_for_s` of reports missing
  double drop_for_s = 0.1;
};

class Bench final : public Operator, public net::Clock, public Progress {
 public:
  std::map<std::string, Panel> panels;  ///< by display name
  bool never_done = false;
  std::optional<Error> hands_fail;
  bool stream_stuck = false;
  int sweeps = 0, forgotten_sweeps = 0;  ///< asked for; not done although said so
  std::vector<std::pair<int, int>> painted;

  // Clock
  [[nodiscard]] net::BenchTime now() const override { return now_; }
  [[nodiscard]] net::awaitable<Result<void>> wait(std::chrono::milliseconds d) override;
  [[nodiscard]] Term kind() const override { return "test"; }
  // Operator
  [[nodiscard]] net::awaitable<Result<void>> begin(Action action) override;
  [[nodiscard]] net::awaitable<Result<bool>> done() override;
  [[nodiscard]] net::awaitable<Result<void>> enough() override;
  // Progress
  void step(double, Term) override {}
  void cell(int col, int row, int, int) override { painted.emplace_back(col, row); }

  [[nodiscard]] double uptime_s() const { return 1000 + std::chrono::duration<double>(now_).count(); }
  [[nodiscard]] std::vector<phone::InputEvent> events(int node);
  double slept_s = 0;      ///< uptime counts it, the digitizer's clock does not
  int listened_node = -1;  ///< whose events were asked for last

 private:
  void rest(const Panel& p, double seconds);
  void sweep(const Panel& p);
  void stroke(const Panel& p, Spot from, Spot to, double& t, std::mt19937& random);
  void report(const Panel& p, double t, std::optional<Spot> at, std::mt19937& random);
  void push(int node, double t, int type, int code, int value);

  net::BenchTime now_{0};
  double busy_until_s_ = 0, sweep_from_s_ = 0;
  std::map<int, std::deque<phone::InputEvent>> queue_;
  struct Slot {
    bool down = false;
    int x = -1, y = -1;
  } slot_;
  int next_id_ = 1;
};

/// Everything that the touch grid does not call answers `unsupported`.
class FakePhone final : public phone::Phone {
 public:
  explicit FakePhone(Bench& bench) : bench_(bench) {}
  std::vector<phone::TouchDevice> devices;

  net::awaitable<Result<double>> uptime_s() override { co_return bench_.uptime_s() + bench_.slept_s; }
  net::awaitable<Result<phone::InputDevices>> input_devices() override {
    phone::InputDevices d;
    d.touch = devices;
    co_return d;
  }
  net::awaitable<Result<std::unique_ptr<phone::TouchStream>>> touch(int node) override;
  net::awaitable<Result<void>> wake() override { co_return Result<void>{}; }

  net::awaitable<Result<phone::Identity>> identity(Bytes) override { co_return none(); }
  net::awaitable<Result<bool>> is_model(std::string, std::string) override { co_return none(); }
  net::awaitable<Result<int>> sdk() override { co_return none(); }
  net::awaitable<Result<phone::BatteryReading>> battery() override { co_return none(); }
  net::awaitable<Result<phone::CellReading>> cell(std::string) override { co_return none(); }
  net::awaitable<Result<void>> start_load(int, int) override { co_return none(); }
  net::awaitable<Result<void>> stop_load() override { co_return none(); }
  net::awaitable<Result<phone::SensorReading>> sensor(int) override { co_return none(); }
  net::awaitable<Result<phone::DeviceState>> device_state() override { co_return none(); }
  net::awaitable<Result<phone::ThermalReading>> thermal() override { co_return none(); }
  net::awaitable<Result<phone::CameraCount>> cameras() override { co_return none(); }
  net::awaitable<Result<phone::DisplaySize>> display_size() override { co_return none(); }
  net::awaitable<Result<void>> open_page(std::string, std::uint16_t, std::string) override {
    co_return none();
  }
  link::Link& link() override { throw std::logic_error("no link in this test"); }

 private:
  static Error none() { return {ErrorCode::unsupported, "not in this test", "", ""}; }
  Bench& bench_;
};

}  // namespace hb::checks::testing
