#include "gauge.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/line_fit.hpp"
#include "checks/kernel/summary.hpp"
#include "harness/phone/charge_status.hpp"

namespace hb::checks::gauge {
namespace {
constexpr double kWindow_s = 8;
constexpr double kClear_ma = 50;  // smallest current that a phone at work draws: common practice, from memory
constexpr double kMilliampere = 10;  // largest |mA| that means the driver gave mA for uA: same
constexpr double kStepNeeded_ma = 150;
constexpr double kSettle_s =
    1.5;  // a gauge renews its readings about once a second: common practice, no source
constexpr double kGaugeGain = 0.01;  // scale error of a phone's gauge: common practice, no source

std::vector<double> currents(const Batteries::Trace& t, int phase) {
  std::vector<double> v;
  for (const auto& s : t.samples)
    if (s.phase == phase && s.current_ma) v.push_back(*s.current_ma);
  return v;
}

/// Load less rest, as reported; nullopt without enough samples.
std::optional<double> raw_step(const Batteries::Trace& t) {
  const auto before = currents(t, 0), during = currents(t, 1);
  if (before.size() < 3 || during.size() < 3) return std::nullopt;
  return kernel::median(during) - kernel::median(before);
}

/// +1 or -1 by the status in the first rest, 0 when it does not settle.
int sign_by_status(const Batteries::Trace& t, double scale) {
  int sign = 0;
  for (const auto& s : t.samples) {
    if (s.phase != 0 || !s.current_ma || std::abs(*s.current_ma * scale) < kClear_ma) continue;
    const bool charging = s.status == static_cast<int>(phone::ChargeStatus::charging);
    if (!charging && s.status != static_cast<int>(phone::ChargeStatus::discharging)) continue;
    const int now = (*s.current_ma > 0) == charging ? 1 : -1;
    if (sign != 0 && sign != now) return 0;
    sign = now;
  }
  return sign;
}

bool contradicted(const Batteries::Trace& t, double factor) {
  std::vector<double> v;
  for (const auto& s : t.samples)
    if (s.current_ma && s.status == static_cast<int>(phone::ChargeStatus::discharging))
      v.push_back(*s.current_ma * factor);
  return v.size() >= 3 && kernel::median(v) > kClear_ma;
}

kernel::Terminal at_edge(const std::vector<double>& t, const std::vector<double>& mv,
                         const std::vector<double>& ma, double mv_step, double ma_step) {
  const auto v = kernel::fit_line(t, mv), i = kernel::fit_line(t, ma);
  if (!v || !i) return {kernel::mean(mv), kernel::mean(ma), mv_step, ma_step};
  return {v->intercept, i->intercept, std::hypot(v->u_intercept, mv_step / std::sqrt(12.0)),
          std::hypot(i->u_intercept, ma_step / std::sqrt(12.0))};
}
}  // namespace

double resolution(std::vector<double> values, double fallback) {
  std::sort(values.begin(), values.end());
  double step = 0;
  for (std::size_t i = 1; i < values.size(); ++i)
    if (const double d = values[i] - values[i - 1]; d > 1e-9 && (step == 0 || d < step)) step = d;
  return step > 0 ? step : fallback;
}

double Edge::u_step_ma() const { return std::hypot(before.u_current_ma, after.u_current_ma); }

std::optional<Edge> edge(const Batteries::Trace& trace, double at_s, int into_phase) {
  std::vector<double> t[2], mv[2], ma[2], all_mv, all_ma;
  for (const auto& s : trace.samples) {
    if (!s.voltage_mv || !s.current_ma) continue;
    all_mv.push_back(*s.voltage_mv);
    all_ma.push_back(*s.current_ma);
    if (std::abs(s.t_s - at_s) > kWindow_s || s.phase > into_phase || s.phase < into_phase - 1) continue;
    if (s.t_s >= at_s && s.t_s < at_s + kSettle_s) continue;
    const std::size_t side = s.phase < into_phase ? 0 : 1;
    t[side].push_back(s.t_s - at_s);
    mv[side].push_back(*s.voltage_mv);
    ma[side].push_back(*s.current_ma);
  }
  if (t[0].size() < 4 || t[1].size() < 4) return std::nullopt;
  const double mv_step = resolution(all_mv, 1), ma_step = resolution(all_ma, 1);
  return Edge{at_edge(t[0], mv[0], ma[0], mv_step, ma_step), at_edge(t[1], mv[1], ma[1], mv_step, ma_step)};
}

Result<std::vector<double>> current_factors(const Batteries::Capture& capture) {
  double largest = 0;
  for (const auto& t : capture.cells)
    for (const double i : currents(t, 1)) largest = std::max(largest, std::abs(i));
  const double scale = largest > 0 && largest < kMilliampere ? 1000 : 1;

  const std::size_t n = capture.cells.size();
  std::vector<int> sign(n, 0);
  std::vector<bool> reports(n, false);
  int common = 0;
  bool any = false, differ = false;
  for (std::size_t i = 0; i < n; ++i) {
    const auto& t = capture.cells[i];
    reports[i] = t.readable && t.present.value_or(true) && !currents(t, 1).empty();
    if (!reports[i]) continue;
    any = true;
    const auto step = raw_step(t);
    sign[i] = step && std::abs(*step * scale) >= kClear_ma ? (*step < 0 ? 1 : -1) : sign_by_status(t, scale);
    differ = differ || (common != 0 && sign[i] != 0 && sign[i] != common);
    if (sign[i] != 0) common = sign[i];
  }
  std::vector<double> factors(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    if (!reports[i]) continue;
    if (sign[i] == 0 && !differ) sign[i] = common;
    factors[i] = sign[i] * scale;
  }
  const Error unsettled{ErrorCode::unsupported,
                        "the sign of the battery current cannot be settled on this phone", "battery",
                        "Run again with the screen on; a larger load helps."};
  if (any && common == 0) return unsettled;
  for (std::size_t i = 0; i < n; ++i)
    if (factors[i] != 0 && contradicted(capture.cells[i], factors[i])) return unsettled;
  return factors;
}

Batteries::Trace with_factor(Batteries::Trace trace, double factor) {
  for (auto& s : trace.samples)
    if (s.current_ma) s.current_ma = *s.current_ma * factor;
  return trace;
}

std::optional<Step> load_step(const Batteries::Trace& trace, double on_s, double off_s) {
  const auto on = edge(trace, on_s, 1), off = edge(trace, off_s, 2);
  if (!on || !off) return std::nullopt;
  Step s;
  s.step_ma = (std::abs(on->step_ma()) + std::abs(off->step_ma())) / 2;
  s.u_step_ma = std::hypot(on->u_step_ma(), off->u_step_ma()) / 2;
  if (std::min(std::abs(on->step_ma()), std::abs(off->step_ma())) < kStepNeeded_ma) return s;
  const auto r_on = kernel::step_resistance(on->before, on->after);
  const auto r_off = kernel::step_resistance(off->before, off->after);
  if (!r_on || !r_off) return s;
  // The larger of what the lines' scatter says and what the two edges' disagreement says.
  const double scatter = std::hypot(r_on->u_mohm, r_off->u_mohm) / 2;
  const double disagreement = std::abs(r_on->mohm - r_off->mohm) / 2;
  const double r = (r_on->mohm + r_off->mohm) / 2;
  s.resistance = kernel::Resistance{r, std::hypot(std::max(scatter, disagreement), kGaugeGain * r)};
  return s;
}

}  // namespace hb::checks::gauge
