#include "checks/kernel/coulomb.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/summary.hpp"

namespace hb::kernel {
namespace {
constexpr double kSecondsPerHour = 3600;

double trapezoid_mas(std::span<const CurrentSample> s, std::size_t stride) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < s.size();) {
    const std::size_t j = std::min(i + stride, s.size() - 1);
    sum += 0.5 * (s[i].current_ma + s[j].current_ma) * (s[j].t_s - s[i].t_s);
    i = j;
  }
  return sum;
}

bool usable(std::span<const CurrentSample> s) {
  if (s.size() < 2) return false;
  for (std::size_t i = 0; i < s.size(); ++i) {
    if (!std::isfinite(s[i].t_s) || !std::isfinite(s[i].current_ma)) return false;
    if (i > 0 && !(s[i].t_s > s[i - 1].t_s)) return false;
  }
  return true;
}

double hypotenuse(double a, double b) { return std::sqrt(a * a + b * b); }
}  // namespace

std::optional<Charge> charge_mah(std::span<const CurrentSample> s, double u_reading_ma, double u_offset_ma) {
  if (!usable(s)) return std::nullopt;
  const double duration = s.back().t_s - s.front().t_s;
  double weights2 = 0;  // sum of squares of each reading's weight in the trapezoid
  for (std::size_t i = 0; i < s.size(); ++i) {
    const double left = i > 0 ? s[i].t_s - s[i - 1].t_s : 0;
    const double right = i + 1 < s.size() ? s[i + 1].t_s - s[i].t_s : 0;
    weights2 += 0.25 * (left + right) * (left + right);
  }
  const double fine = trapezoid_mas(s, 1);
  const double rule = s.size() > 2 ? std::abs(fine - trapezoid_mas(s, 2)) / 3 : 0;
  const double noise = u_reading_ma * std::sqrt(weights2);
  const double offset = u_offset_ma * duration;
  Charge c;
  c.mah = fine / kSecondsPerHour;
  c.u_mah = std::sqrt(noise * noise + offset * offset + rule * rule) / kSecondsPerHour;
  c.duration_s = duration;
  c.n = static_cast<int>(s.size());
  return c;
}

std::optional<Resistance> step_resistance(const Terminal& a, const Terminal& b) {
  const double dv = a.voltage_mv - b.voltage_mv, di = a.current_ma - b.current_ma;
  if (!std::isfinite(dv) || !std::isfinite(di) || di == 0) return std::nullopt;
  const double ohm = dv / di;
  const double u_dv = hypotenuse(a.u_voltage_mv, b.u_voltage_mv);
  const double u_di = hypotenuse(a.u_current_ma, b.u_current_ma);
  return Resistance{1000 * ohm, 1000 * hypotenuse(u_dv / di, ohm * u_di / di)};
}

std::optional<Terminal> steady_state(std::span<const double> v, std::span<const double> i,
                                     double resolution_mv, double resolution_ma) {
  if (v.empty() || v.size() != i.size()) return std::nullopt;
  const double rectangular = std::sqrt(12.0);
  Terminal t;
  t.voltage_mv = mean(v);
  t.current_ma = mean(i);
  t.u_voltage_mv = hypotenuse(mean_uncertainty(v), resolution_mv / rectangular);
  t.u_current_ma = hypotenuse(mean_uncertainty(i), resolution_ma / rectangular);
  return t;
}

std::optional<OcvCurve> OcvCurve::from(std::vector<double> soc, std::vector<double> volts) {
  if (soc.size() < 2 || soc.size() != volts.size()) return std::nullopt;
  for (std::size_t i = 0; i < soc.size(); ++i) {
    if (!std::isfinite(soc[i]) || !std::isfinite(volts[i])) return std::nullopt;
    if (i > 0 && (!(soc[i] > soc[i - 1]) || !(volts[i] > volts[i - 1]))) return std::nullopt;
  }
  OcvCurve c;
  c.soc_ = std::move(soc);
  c.volts_ = std::move(volts);
  return c;
}

namespace {
/// Index i of the segment i..i+1 that holds `at`, ends included.
std::size_t segment(const std::vector<double>& knots, double at) {
  const auto it = std::upper_bound(knots.begin(), knots.end(), at);
  const auto i = it == knots.begin() ? std::size_t{0} : static_cast<std::size_t>(it - knots.begin()) - 1;
  return std::min(i, knots.size() - 2);
}
}  // namespace

double OcvCurve::slope(double soc) const noexcept {
  const std::size_t i = segment(soc_, soc);
  return (volts_[i + 1] - volts_[i]) / (soc_[i + 1] - soc_[i]);
}

double OcvCurve::volts(double soc) const noexcept {
  const double s = std::clamp(soc, soc_.front(), soc_.back());
  const std::size_t i = segment(soc_, s);
  return volts_[i] + slope(s) * (s - soc_[i]);
}

OcvCurve::Inverse OcvCurve::soc(double volts) const noexcept {
  const double v = std::clamp(volts, volts_.front(), volts_.back());
  const std::size_t i = segment(volts_, v);
  const double per = (volts_[i + 1] - volts_[i]) / (soc_[i + 1] - soc_[i]);
  return {soc_[i] + (v - volts_[i]) / per, per, v != volts};
}

std::optional<Capacity> capacity_mah(double charge, double u_charge, double from, double to, double u_soc) {
  const double ds = to - from;
  if (!std::isfinite(charge) || !std::isfinite(ds) || ds == 0) return std::nullopt;
  const double q = charge / ds;
  const double u_ds = std::sqrt(2.0) * u_soc;
  return Capacity{q, hypotenuse(u_charge / ds, q * u_ds / ds)};
}

double parallel_share(double r1, double r2) noexcept { return r2 / (r1 + r2); }

double balance_current_ma(double v1_mv, double v2_mv, double r1, double r2) noexcept {
  return 1000 * (v1_mv - v2_mv) / (r1 + r2);
}
}  // namespace hb::kernel
