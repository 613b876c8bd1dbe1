// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>

#include "checks/batteries/batteries.hpp"
#include "checks/kernel/summary.hpp"
#include "gauge.hpp"

namespace hb::checks {
namespace {
using gauge::Step;

constexpr double kLearnedCapacity = 0.02;  // a gauge's learned full charge: common practice, no source
constexpr double kDesignRounding = 0.005;  // of the design capacity as reported: common practice, no source
constexpr double kSocError = 0.01;         // a rested gauge's state of charge: common practice, no source
constexpr double kNotRelaxed = 0.3;        // of I R still hidden in slow relaxation at rest: same
constexpr double kSensor_c = 1;            // a cell's thermistor: common practice, no source
constexpr double kChargeNeeded_mah = 0.5;
constexpr std::size_t kTail = 5;  // samples at the end of a phase that stand for it

double root(std::initializer_list<double> parts) {
  double s = 0;
  for (const double p : parts) s += p * p;
  return std::sqrt(s);
}
double rounding(double step) { return step / std::sqrt(12.0); }

bool in_order(const Batteries::Trace& t) {
  for (std::size_t i = 0; i < t.samples.size(); ++i) {
    const auto& s = t.samples[i];
    if (!std::isfinite(s.t_s) || s.phase < 0 || s.phase > 2) return false;
    for (const auto& v : {s.voltage_mv, s.current_ma, s.temperature_c, s.counter_mah})
      if (v && !(std::abs(*v) < 1e9)) return false;
    if (i > 0 && (s.t_s <= t.samples[i - 1].t_s || s.phase < t.samples[i - 1].phase)) return false;
  }
  return true;
}

using Column = std::optional<double> Batteries::Sample::*;
std::vector<double> column(const Batteries::Trace& t, Column c, int phase = -1) {
  std::vector<double> v;
  for (const auto& s : t.samples)
    if ((phase < 0 || s.phase == phase) && s.*c) v.push_back(*(s.*c));
  return v;
}
std::vector<double> tail(std::vector<double> v) {
  if (v.size() > kTail) v.erase(v.begin(), v.end() - static_cast<std::ptrdiff_t>(kTail));
  return v;
}
std::int64_t count(const Batteries::Trace& t) { return static_cast<std::int64_t>(t.samples.size()); }

class Pack {
 public:
  Pack(const Batteries::Capture& c, const Batteries::Config& config, const std::vector<double>& factors)
      : c_(c), config_(config), curve_(kernel::OcvCurve::from(config.ocv_soc, config.ocv_v)) {
    for (std::size_t i = 0; i < c.cells.size(); ++i) {
      traces_.push_back(gauge::with_factor(c.cells[i], factors[i]));
      steps_.push_back(factors[i] == 0 ? std::nullopt
                                       : gauge::load_step(traces_[i], c.load_on_s, c.load_off_s));
      factors_.push_back(factors[i]);
    }
  }

  Measured take() {
    bool any = false;
    for (std::size_t i = 0; i < traces_.size(); ++i) {
      if (!traces_[i].readable) continue;
      any = true;
      cell(i);
    }
    if (!any) combined();
    shares();
    imbalance();
    return std::move(out_);
  }

 private:
  void add(Term key, const ShopText& part, double value, double u, Term unit, std::int64_t n) {
    out_.measures.push_back({key, part, value, u, unit, n});
  }

  void cell(std::size_t i) {
    const auto& t = traces_[i];
    const auto& cell = config_.cells[i];
    if (t.present) add("batteries.present", cell.name, *t.present ? 1 : 0, 0, "1", count(t));
    if (!t.present.value_or(true)) return;
    if (t.full_mah && *t.full_mah > 0) {
      const double soh = 100 * *t.full_mah / cell.design_mah;
      add("batteries.soh_pct", cell.name, soh, kLearnedCapacity * soh, "%", 1);
    }
    if (t.design_mah && *t.design_mah > 0) {
      const double ratio = *t.design_mah / cell.design_mah;
      add("batteries.design_ratio", cell.name, ratio, kDesignRounding, "1", 1);
    }
    if (factors_[i] != 0)
      add("batteries.sign_inverted", cell.name, factors_[i] < 0 ? 1 : 0, 0, "1", count(t));
    if (steps_[i] && steps_[i]->resistance)
      add("batteries.resistance_mohm", cell.name, steps_[i]->resistance->mohm, steps_[i]->resistance->u_mohm,
          "mohm", count(t));
    coulomb(t, cell.name);
    rest_voltage(i);
    temperature(t, cell.name);
    plot(t, cell.name);
  }

  /// Integral of the current against the change of the charge counter, in per cent of the charge moved.
  void coulomb(const Batteries::Trace& t, const ShopText& name) {
    std::vector<kernel::CurrentSample> signed_ma, size_ma;
    std::vector<double> counter;
    for (const auto& s : t.samples) {
      if (!s.current_ma || !s.counter_mah) continue;
      signed_ma.push_back({s.t_s, *s.current_ma});
      size_ma.push_back({s.t_s, std::abs(*s.current_ma)});
      counter.push_back(*s.counter_mah);
    }
    if (counter.size() < 10) return;
    const double reading = rounding(gauge::resolution(column(t, &Batteries::Sample::current_ma), 1));
    const auto q = kernel::charge_mah(signed_ma, reading), moved = kernel::charge_mah(size_ma, reading);
    if (!q || !moved || moved->mah < kChargeNeeded_mah) return;
    // Two readings of a counter that steps by q: a triangle of half-width q, sd q / sqrt 6.
    const double step = gauge::resolution(counter, 1);
    const double error_mah = q->mah - (counter.back() - counter.front());
    add("batteries.coulomb_error_pct", name, 100 * error_mah / moved->mah,
        100 * root({q->u_mah, step / std::sqrt(6.0)}) / moved->mah, "%",
        static_cast<std::int64_t>(counter.size()));
  }

  /// Rest voltage without the drop over the cell's resistance, mV, and its uncertainty.
  struct Open {
    double mv = 0, u_mv = 0;
  };
  [[nodiscard]] std::optional<Open> open_circuit(std::size_t i) const {
    const auto& t = traces_[i];
    if (!steps_[i] || !steps_[i]->resistance) return std::nullopt;
    const auto mv = tail(column(t, &Batteries::Sample::voltage_mv, 0));
    const auto ma = tail(column(t, &Batteries::Sample::current_ma, 0));
    if (mv.empty() || ma.empty()) return std::nullopt;
    const double i_ma = kernel::mean(ma), r = steps_[i]->resistance->mohm;
    const double drop_mv = i_ma * r / 1000;
    return Open{kernel::mean(mv) - drop_mv,
                root({kernel::mean_uncertainty(mv),
                      rounding(gauge::resolution(column(t, &Batteries::Sample::voltage_mv), 1)),
                      i_ma * steps_[i]->resistance->u_mohm / 1000, kNotRelaxed * drop_mv})};
  }

  void rest_voltage(std::size_t i) {
    const auto open = open_circuit(i);
    if (!open || !curve_) return;
    std::vector<double> soc;
    for (const auto& s : traces_[i].samples)
      if (s.phase == 0 && s.soc_pct) soc.push_back(*s.soc_pct / 100.0);
    if (soc.empty()) return;
    const double at = kernel::mean(tail(soc));
    const double slope_mv = 1000 * curve_->slope(at);
    add("batteries.rest_ocv_error_mv", config_.cells[i].name, open->mv - 1000 * curve_->volts(at),
        root({open->u_mv, slope_mv * kSocError, slope_mv * rounding(0.01)}), "mV",
        static_cast<std::int64_t>(soc.size()));
  }

  void temperature(const Batteries::Trace& t, const ShopText& name) {
    const auto all = column(t, &Batteries::Sample::temperature_c);
    if (all.empty()) return;
    const double step = gauge::resolution(all, 0.1);
    const auto n = static_cast<std::int64_t>(all.size());
    add("batteries.temperature_c", name, *std::max_element(all.begin(), all.end()),
        root({kSensor_c, rounding(step)}), "degC", n);
    const auto before = tail(column(t, &Batteries::Sample::temperature_c, 0));
    const auto during = tail(column(t, &Batteries::Sample::temperature_c, 1));
    if (before.empty() || during.empty()) return;
    add("batteries.temperature_rise_c", name, kernel::mean(during) - kernel::mean(before),
        root({rounding(step), rounding(step), kernel::mean_uncertainty(before),
              kernel::mean_uncertainty(during)}),
        "K", static_cast<std::int64_t>(before.size() + during.size()));
  }

  /// The platform's view of the pack, when no cell can be read: no current, so no resistance.
  void combined() {
    const auto& t = c_.combined;
    const ShopText name{"combined"};
    if (t.present) add("batteries.present", name, *t.present ? 1 : 0, 0, "1", count(t));
    temperature(t, name);
    const auto rest = tail(column(t, &Batteries::Sample::voltage_mv, 0));
    const auto load = tail(column(t, &Batteries::Sample::voltage_mv, 1));
    if (!rest.empty() && !load.empty())
      add("batteries.load_sag_mv", name, kernel::mean(rest) - kernel::mean(load),
          root({kernel::mean_uncertainty(rest), kernel::mean_uncertainty(load), rounding(1), rounding(1)}),
          "mV", static_cast<std::int64_t>(rest.size() + load.size()));
    plot(t, name);
  }

  /// Share of the load step against the share that the design resistances give, or the design capacities
  /// where the profile has no resistances. Points of per cent.
  void shares() {
    if (!config_.parallel) return;
    std::vector<std::size_t> who;
    double total = 0, weights = 0;
    bool by_resistance = true;
    for (std::size_t i = 0; i < traces_.size(); ++i) {
      if (!traces_[i].present.value_or(true) || !steps_[i]) continue;
      who.push_back(i);
      total += steps_[i]->step_ma;
      by_resistance = by_resistance && config_.cells[i].r_design_mohm.has_value();
    }
    if (who.size() < 2 || total < 150) return;
    const auto weight = [&](std::size_t i) {
      return by_resistance ? 1 / *config_.cells[i].r_design_mohm : config_.cells[i].design_mah;
    };
    for (const auto i : who) weights += weight(i);
    for (const auto i : who) {
      const double share = steps_[i]->step_ma / total;
      add("batteries.share_error_pct", config_.cells[i].name, 100 * (share - weight(i) / weights),
          100 * std::hypot(steps_[i]->u_step_ma / total, 0.01 * share), "%", count(traces_[i]));
    }
  }

  /// Largest difference of the cells' own voltages at rest: cells in parallel should be equally full.
  void imbalance() {
    if (!config_.parallel) return;
    std::vector<Open> open;
    std::int64_t n = 0;
    for (std::size_t i = 0; i < traces_.size(); ++i) {
      if (!traces_[i].present.value_or(true)) continue;
      if (const auto o = open_circuit(i)) {
        open.push_back(*o);
        n += count(traces_[i]);
      }
    }
    if (open.size() < 2) return;
    const auto [low, high] =
        std::minmax_element(open.begin(), open.end(), [](auto& a, auto& b) { return a.mv < b.mv; });
    add("batteries.imbalance_mv", {}, high->mv - low->mv, root({low->u_mv, high->u_mv}), "mV", n);
  }

  void plot(const Batteries::Trace& t, const ShopText& name) {
    Plot p;
    p.kind = "battery_trace";
    p.part = name;
    Series time{"t", "s", {}}, volts{"voltage", "V", {}}, current{"current", "mA", {}};
    for (const auto& s : t.samples) {
      if (!s.voltage_mv) continue;
      time.values.push_back(s.t_s - t.samples.front().t_s);
      volts.values.push_back(*s.voltage_mv / 1000);
      if (s.current_ma) current.values.push_back(*s.current_ma);
    }
    p.series = {std::move(time), std::move(volts)};
    if (current.values.size() == p.series[0].values.size()) p.series.push_back(std::move(current));
    out_.plots.push_back(std::move(p));
  }

  const Batteries::Capture& c_;
  const Batteries::Config& config_;
  std::optional<kernel::OcvCurve> curve_;
  std::vector<Batteries::Trace> traces_;
  std::vector<std::optional<Step>> steps_;
  std::vector<double> factors_;
  Measured out_;
};
}  // namespace

Result<Measured> Batteries::measure(const Capture& capture, const Config& config) {
  const bool good = capture.cells.size() == config.cells.size() && in_order(capture.combined) &&
                    std::all_of(capture.cells.begin(), capture.cells.end(), in_order);
  if (!good)
    return Error{ErrorCode::bad_format, "the capture is torn: its times do not increase", "batteries",
                 "Run the check again."};
  const auto has = [](const Trace& t) { return t.readable && !t.samples.empty(); };
  if (!has(capture.combined) && std::none_of(capture.cells.begin(), capture.cells.end(), has))
    return Error{ErrorCode::unsupported, "this phone shows no battery readings", "battery", ""};
  auto factors = gauge::current_factors(capture);
  if (!factors) return std::move(factors).error();
  return Pack(capture, config, *factors).take();
}

}  // namespace hb::checks
