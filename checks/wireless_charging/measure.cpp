// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>

#include "checks/kernel/line_fit.hpp"
#include "checks/kernel/summary.hpp"
#include "checks/wireless_charging/wireless_charging.hpp"
#include "harness/phone/charge_status.hpp"

namespace hb::checks {
namespace {
using Sample = WirelessCharging::Sample;

constexpr double kSettle_s = 5;       // the charger ramps up: common practice, no source
constexpr double kShiftSettle_s = 3;  // same
constexpr double kClear_ma = 50;      // smallest current that settles a sign: as in the battery check
constexpr double kMilliampere = 10;   // largest |mA| that means the driver gave mA for uA: same
constexpr double kGain = 0.01;        // scale error of a phone's gauge: common practice, no source
constexpr double kCorrelated = 5;     // samples that count as one: neighbours are alike (our estimate)
constexpr double kKept = 0.8;         // share of samples with power that counts as kept: our choice

double root(std::initializer_list<double> parts) {
  double s = 0;
  for (const double p : parts) s += p * p;
  return std::sqrt(s);
}
double rounding(double step) { return step / std::sqrt(12.0); }

bool in_order(const std::vector<Sample>& v) {
  for (std::size_t i = 0; i < v.size(); ++i) {
    if (!std::isfinite(v[i].t_s) || v[i].stage < 0 || v[i].stage > 3) return false;
    for (const auto& x : {v[i].current_ma, v[i].voltage_mv, v[i].counter_mah, v[i].temperature_c})
      if (x && !(std::abs(*x) < 1e9)) return false;
    if (i > 0 && (v[i].t_s <= v[i - 1].t_s || v[i].stage < v[i - 1].stage)) return false;
  }
  return true;
}

struct Mean {
  double value = 0, u = 0;
  std::int64_t n = 0;
};
std::optional<Mean> mean_of(const std::vector<double>& v) {
  if (v.size() < 4) return std::nullopt;
  const double m = kernel::mean(v), n = static_cast<double>(v.size());
  return Mean{m,
              root({kernel::standard_deviation(v) / std::sqrt(std::max(1.0, n / kCorrelated)), kGain * m,
                    rounding(1)}),
              static_cast<std::int64_t>(v.size())};
}

class Pad {
 public:
  Pad(const WirelessCharging::Capture& c, const WirelessCharging::Config& config) : c_(c), config_(config) {
    for (std::size_t i = 0; i < c.samples.size() && !coupled_at_; ++i)
      if (c.samples[i].wireless) coupled_at_ = i;
    if (coupled_at_) coupled_s_ = c.samples[*coupled_at_].t_s;
    settle_sign();
  }

  Measured take() {
    const auto n = static_cast<std::int64_t>(c_.samples.size());
    add("wireless_charging.coupled", coupled_at_ ? 1 : 0, 0, "1", n);
    if (coupled_at_) {
      time_to_couple();
      held();
      shifted();
      warmth();
    }
    plot();
    return std::move(out_);
  }

 private:
  void add(Term key, double value, double u, Term unit, std::int64_t n) {
    out_.measures.push_back({key, {}, value, u, unit, n});
  }

  template <class Which, class Value>
  [[nodiscard]] std::vector<double> pick(Which which, Value value) const {
    std::vector<double> v;
    for (const auto& s : c_.samples)
      if (which(s))
        if (const std::optional<double> x = value(s)) v.push_back(*x);
    return v;
  }
  [[nodiscard]] std::optional<double> current(const Sample& s) const {
    if (factor_ == 0 || !s.current_ma) return std::nullopt;
    return *s.current_ma * factor_;
  }
  [[nodiscard]] bool holding(const Sample& s) const {
    return s.stage == 1 && s.t_s >= coupled_s_ + kSettle_s;
  }
  static bool off_everything(const Sample& s) { return s.stage == 0 && !s.wireless && !s.cable; }

  /// Power from the pad makes the current more positive; that settles the sign where the change is 50 mA or
  /// more, else a status of charging does. Otherwise the current is not used.
  void settle_sign() {
    if (!coupled_at_) return;
    const auto raw = [](const Sample& s) { return s.current_ma; };
    const auto with = pick([&](const Sample& s) { return holding(s) && s.wireless; }, raw);
    const auto without = pick(off_everything, raw);
    if (with.empty()) return;
    double largest = 0;
    for (const double i : with) largest = std::max(largest, std::abs(i));
    for (const double i : without) largest = std::max(largest, std::abs(i));
    const double scale = largest < kMilliampere ? 1000 : 1;
    const double level = kernel::median(with) * scale;
    const double change = without.empty() ? 0 : level - kernel::median(without) * scale;
    if (std::abs(change) >= kClear_ma) {
      factor_ = change > 0 ? scale : -scale;
      return;
    }
    const auto charging = std::count_if(c_.samples.begin(), c_.samples.end(), [&](const Sample& s) {
      return holding(s) && s.status == static_cast<int>(phone::ChargeStatus::charging);
    });
    if (std::abs(level) >= kClear_ma && 2 * charging > static_cast<std::ptrdiff_t>(with.size()))
      factor_ = level > 0 ? scale : -scale;
  }

  /// Both instants lie somewhere in the interval before the reading that showed them.
  void time_to_couple() {
    const double before_s = *coupled_at_ > 0 ? c_.samples[*coupled_at_ - 1].t_s : coupled_s_;
    const double half_s = (coupled_s_ - before_s) / 2;
    const double couple_s = (coupled_s_ - half_s) - (c_.placed_s - c_.place_u_s);
    add("wireless_charging.couple_s", std::max(0.0, couple_s),
        root({half_s, c_.place_u_s, 0.01}) / std::sqrt(3.0), "s", 1);
  }

  [[nodiscard]] bool tapering_or_hot() const {
    return std::any_of(c_.samples.begin(), c_.samples.end(), [&](const Sample& s) {
      return s.stage == 1 && ((s.level_pct && *s.level_pct >= config_.taper_above_pct) ||
                              (s.temperature_c && *s.temperature_c >= config_.hot_above_c));
    });
  }

  /// From the gauges' current; without one from the slope of the charge counter.
  [[nodiscard]] std::optional<Mean> net_current() const {
    const auto which = [&](const Sample& s) { return holding(s); };
    if (factor_ != 0) return mean_of(pick(which, [&](const Sample& s) { return current(s); }));
    std::vector<double> t, mah;
    for (const auto& s : c_.samples)
      if (which(s) && s.counter_mah) {
        t.push_back(s.t_s - coupled_s_);
        mah.push_back(*s.counter_mah);
      }
    const auto line = kernel::fit_line(t, mah);
    if (!line || line->n < 10) return std::nullopt;
    double step = 0;
    for (std::size_t i = 1; i < mah.size(); ++i)
      if (const double d = std::abs(mah[i] - mah[i - 1]); d > 0 && (step == 0 || d < step)) step = d;
    if (step == 0) step = 1;
    const double per_hour = 3600, span_s = t.back() - t.front();
    return Mean{line->slope * per_hour,
                root({line->u_slope * per_hour, step / std::sqrt(6.0) / span_s * per_hour,
                      kGain * line->slope * per_hour}),
                line->n};
  }

  void held() {
    std::int64_t dropouts = 0, n = 0;
    for (std::size_t i = 1; i < c_.samples.size(); ++i) {
      if (c_.samples[i].stage != 1) continue;
      ++n;
      if (c_.samples[i - 1].wireless && !c_.samples[i].wireless) ++dropouts;
    }
    if (n < 10) return;
    add("wireless_charging.dropouts", static_cast<double>(dropouts), 0, "1", n);
    const auto net = net_current();
    if (!net || tapering_or_hot()) return;
    add("wireless_charging.net_current_ma", net->value, net->u, "mA", net->n);

    const auto drain = mean_of(pick(off_everything, [&](const Sample& s) { return current(s); }));
    const auto mv =
        pick([&](const Sample& s) { return holding(s); }, [](const Sample& s) { return s.voltage_mv; });
    if (!drain || mv.empty()) return;
    const double watts_per_ma = kernel::mean(mv) / 1e6;
    const double fraction = watts_per_ma * (net->value - drain->value) / config_.power_w;
    add("wireless_charging.power_fraction", fraction,
        root({watts_per_ma * root({net->u, drain->u}) / config_.power_w, 0.02 * fraction}), "1", net->n);
  }

  void shifted() {
    const auto first =
        std::find_if(c_.samples.begin(), c_.samples.end(), [](auto& s) { return s.stage == 3; });
    if (first == c_.samples.end()) return;
    const auto n = static_cast<std::int64_t>(c_.samples.end() - first);
    const auto on = std::count_if(first, c_.samples.end(), [](auto& s) { return s.wireless; });
    if (n < 5) return;
    add("wireless_charging.shifted_kept", static_cast<double>(on) >= kKept * static_cast<double>(n) ? 1 : 0,
        0, "1", n);
    const double from_s = first->t_s + kShiftSettle_s;
    const auto after = mean_of(pick([&](const Sample& s) { return s.stage == 3 && s.t_s >= from_s; },
                                    [&](const Sample& s) { return current(s); }));
    const auto before = mean_of(
        pick([&](const Sample& s) { return holding(s); }, [&](const Sample& s) { return current(s); }));
    if (!after || !before || before->value < 2 * kClear_ma) return;
    const double ratio = after->value / before->value;
    add("wireless_charging.shifted_current_ratio", ratio,
        root({after->u / before->value, ratio * before->u / before->value}), "1", after->n);
  }

  void warmth() {
    std::vector<double> t, temperature;
    for (const auto& s : c_.samples)
      if (s.stage == 1 && s.temperature_c) {
        t.push_back((s.t_s - coupled_s_) / 60);
        temperature.push_back(*s.temperature_c);
      }
    const auto line = kernel::fit_line(t, temperature);
    if (!line || line->n < 10) return;
    const double span_min = t.back() - t.front();
    add("wireless_charging.temp_slope_c_per_min", line->slope,
        root({line->u_slope, 0.1 / std::sqrt(6.0) / span_min}), "K/min", line->n);
  }

  void plot() {
    Series t{"t", "s", {}}, ma{"current", "mA", {}}, on{"coupled", "1", {}};
    for (const auto& s : c_.samples) {
      const auto i = current(s);
      if (factor_ != 0 && !i) continue;
      t.values.push_back(s.t_s - c_.placed_s);
      if (i) ma.values.push_back(*i);
      on.values.push_back(s.wireless ? 1 : 0);
    }
    Plot p;
    p.kind = "charge_trace";
    p.series.push_back(std::move(t));
    if (factor_ != 0) p.series.push_back(std::move(ma));
    p.series.push_back(std::move(on));
    out_.plots.push_back(std::move(p));
  }

  const WirelessCharging::Capture& c_;
  const WirelessCharging::Config& config_;
  std::optional<std::size_t> coupled_at_;
  double coupled_s_ = 0, factor_ = 0;
  Measured out_;
};
}  // namespace

Result<Measured> WirelessCharging::measure(const Capture& capture, const Config& config) {
  if (capture.samples.empty())
    return Error{ErrorCode::unsupported, "this phone shows no battery readings", "wireless", ""};
  if (!in_order(capture.samples) || !std::isfinite(capture.placed_s) || !std::isfinite(capture.place_u_s))
    return Error{ErrorCode::bad_format, "the capture is torn: its times do not increase", "wireless_charging",
                 "Run the check again."};
  const bool coupled =
      std::any_of(capture.samples.begin(), capture.samples.end(), [](auto& s) { return s.wireless; });
  if (!coupled && capture.samples.back().cable)
    return Error{ErrorCode::unsupported, "a cable is in, so the phone does not charge from the pad",
                 "wireless", "Unplug it and run again."};
  return Pad(capture, config).take();
}

}  // namespace hb::checks
