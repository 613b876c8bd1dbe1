// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <array>
#include <cmath>

#include "checks/kernel/line_fit.hpp"
#include "checks/kernel/summary.hpp"
#include "checks/wired_port/wired_port.hpp"

namespace hb::checks {
namespace {
constexpr double kGain = 0.01;          // of a charger's own meters: common practice, no source
constexpr double kVoltageGain = 0.005;  // the same
constexpr double kLeastSwing_ma = 500;  // a resistance needs two currents that differ; our choice
constexpr std::size_t kFewest = 8;

struct Side {
  std::vector<WiredPort::Sample> plugging_or_still, still, wiggled;
};

Side side_of(const WiredPort::Capture& c, int side) {
  Side s;
  for (const auto& x : c.samples) {
    if (x.side != side) continue;
    if (x.stage == WiredPort::Stage::wiggled) s.wiggled.push_back(x);
    if (x.stage != WiredPort::Stage::wiggled) s.plugging_or_still.push_back(x);
    if (x.stage == WiredPort::Stage::still) s.still.push_back(x);
  }
  return s;
}

/// Times that power was there and then was not.
double losses(const std::vector<WiredPort::Sample>& all) {
  double n = 0;
  for (std::size_t i = 1; i < all.size(); ++i) n += all[i - 1].online && !all[i].online ? 1 : 0;
  return n;
}

double root(double a, double b) { return std::sqrt(a * a + b * b); }

bool torn(const WiredPort::Capture& c) {
  const auto wild = [](const std::optional<double>& v) { return v && !(std::abs(*v) < 1e6); };
  return !std::isfinite(c.level_pct) || std::any_of(c.samples.begin(), c.samples.end(), [&](const auto& s) {
    return !std::isfinite(s.t_s) || s.side < 1 || s.side > 2 || s.stage < WiredPort::Stage::plugging ||
           s.stage > WiredPort::Stage::wiggled || wild(s.voltage_mv) || wild(s.current_ma) ||
           wild(s.limit_ma);
  }) || std::any_of(c.speeds.begin(), c.speeds.end(), [](const auto& s) {
    return s.side < 1 || s.side > 2 || !(s.mbit_s >= 0 && s.mbit_s < 1e6);
  });
}

class Measures {
 public:
  Measures(const WiredPort::Capture& c, const WiredPort::Config& config) : c_(c), config_(config) {}
  Measured take() {
    for (const int side : {1, 2})
      powered_[static_cast<std::size_t>(side - 1)] = one(WiredPort::part(side), side_of(c_, side));
    for (const auto& s : c_.speeds)
      add("wired_port.link_mbit_s", WiredPort::part(s.side), s.mbit_s, 0, "Mbit/s", 1);
    owe();
    return std::move(out_);
  }

 private:
  [[nodiscard]] bool has(Term key, const ShopText& part) const {
    return std::any_of(out_.measures.begin(), out_.measures.end(),
                       [&](const Measure& m) { return m.key == key && m.part == part; });
  }
  /// What could be taken one way round is due the other way too, unless there is no power.
  void owe() {
    for (const Measure& m : out_.measures)
      for (const int side : {1, 2}) {
        const auto part = WiredPort::part(side);
        if (powered_[static_cast<std::size_t>(side - 1)] && !has(m.key, part))
          out_.owed.push_back({m.key, part});
      }
  }
  void add(Term key, ShopText part, double value, double u, Term unit, std::size_t n) {
    out_.measures.push_back({key, std::move(part), value, u, unit, static_cast<std::int64_t>(n)});
  }

  /// Whether there was power.
  bool one(const ShopText& part, const Side& s) {
    const auto on = static_cast<std::size_t>(
        std::count_if(s.still.begin(), s.still.end(), [](const auto& x) { return x.online; }));
    const bool powered = 2 * on >= s.still.size() && on > 0;
    add("wired_port.powered", part, powered ? 1 : 0, 0, "1", s.still.size());
    if (!powered) return false;
    add("wired_port.dropouts", part, losses(s.still), 0, "1", s.still.size());
    add("wired_port.wiggle_dropouts", part, losses(s.wiggled), 0, "1", s.wiggled.size());
    steady(part, s);
    resistance(part, s);
    return true;
  }

  /// From the second half of the rest: a charge rises in steps at first.
  void steady(const ShopText& part, const Side& s) {
    std::vector<double> current, voltage;
    double limit = 0;
    for (std::size_t i = s.still.size() / 2; i < s.still.size(); ++i) {
      const auto& x = s.still[i];
      if (!x.online) continue;
      if (x.current_ma) current.push_back(std::abs(*x.current_ma));
      if (x.voltage_mv) voltage.push_back(*x.voltage_mv);
      if (x.limit_ma) limit = std::max(limit, *x.limit_ma);
    }
    if (limit > 0) add("wired_port.current_limit_ma", part, limit, 1 / std::sqrt(12.0), "mA", current.size());
    // A battery that is nearly full takes less by design.
    if (current.size() >= kFewest && c_.level_pct < config_.taper_above_pct) {
      const double mean = kernel::mean(current);
      add("wired_port.current_ma", part, mean, root(kernel::mean_uncertainty(current), kGain * mean), "mA",
          current.size());
    }
    if (voltage.size() >= kFewest) {
      const double mean = kernel::mean(voltage);
      add("wired_port.port_voltage_mv", part, mean,
          root(kernel::mean_uncertainty(voltage), kVoltageGain * mean), "mV", voltage.size());
    }
  }

  /// The fall of the port's voltage with its current: Ohm's law over charger cable and contacts.
  void resistance(const ShopText& part, const Side& s) {
    std::vector<double> amperes, volts;
    for (const auto& x : s.plugging_or_still)
      if (x.online && x.current_ma && x.voltage_mv) {
        amperes.push_back(std::abs(*x.current_ma) / 1000);
        volts.push_back(*x.voltage_mv / 1000);
      }
    if (amperes.size() < kFewest) return;
    const auto [least, most] = std::minmax_element(amperes.begin(), amperes.end());
    if (1000 * (*most - *least) < kLeastSwing_ma) return;
    const auto fit = kernel::fit_line(amperes, volts);
    if (!fit) return;
    const double mohm = std::max(0.0, -1000 * fit->slope);
    add("wired_port.resistance_mohm", part, mohm, std::max(1.0, root(1000 * fit->u_slope, 2 * kGain * mohm)),
        "mohm", amperes.size());
  }

  const WiredPort::Capture& c_;
  const WiredPort::Config& config_;
  std::array<bool, 2> powered_{};
  Measured out_;
};
}  // namespace

Result<Measured> WiredPort::measure(const Capture& capture, const Config& config) {
  if (torn(capture))
    return Error{ErrorCode::bad_format, "the capture is torn: a value is out of range", "port",
                 "Run the check again."};
  return Measures(capture, config).take();
}

}  // namespace hb::checks
