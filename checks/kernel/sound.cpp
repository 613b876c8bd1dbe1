#include "checks/kernel/sound.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>
#include <stdexcept>

#include "checks/kernel/fourier.hpp"

namespace hb::kernel {
namespace {
using std::numbers::pi;
constexpr double kNothing_db = -300;
constexpr int kHarmonics = 5;

double db(double power) { return power > 1e-30 ? 10 * std::log10(power) : kNothing_db; }
/// 0 at u <= 0, 1 at u >= 1, half a cosine between.
double rise(double u) { return 0.5 - 0.5 * std::cos(pi * std::clamp(u, 0.0, 1.0)); }

void demand(const Sweep& s) {
  if (!(s.f1_hz > 0 && s.f1_hz < s.f2_hz && s.f2_hz < s.rate_hz / 2 && s.wanted_s > 0))
    throw std::invalid_argument("Sweep: 0 < f1 < f2 < rate / 2");
}

/// By stationary phase the sweep's phase at f is 2 pi f L and it passes f at L ln(f / f1), so that
/// X(f) = sqrt(L / f) / 2 * exp(2 pi i f L (1 - ln(f / f1)) - i pi / 4).
std::complex<double> inverse_spectrum(const Sweep& s, double f) {
  const double l = s.l_s();
  // Turns first, reduced, so that no accuracy is lost in a large phase.
  const double turns = f * l * (1 - std::log(f / s.f1_hz));
  return std::polar(2 * std::sqrt(f / l), -2 * pi * (turns - std::floor(turns)) + pi / 4);
}

/// A stretch of h around `at` (circular), `before` and `after` in samples, with half-cosine ends.
std::vector<double> cut(const Impulse& i, double at, double before, double after) {
  const auto n = static_cast<long long>(i.h.size());
  const auto b = std::llround(before), a = std::llround(after);
  std::vector<double> out(static_cast<std::size_t>(a + b));
  const long long first = std::llround(at) - b;
  for (std::size_t k = 0; k < out.size(); ++k) {
    const auto kk = static_cast<long long>(k);
    const double head = static_cast<double>(kk) / std::max(1.0, before / 2);
    const double tail = static_cast<double>(a + b - kk) / std::max(1.0, after / 2);
    out[k] = i.h[static_cast<std::size_t>(((first + kk) % n + n) % n)] * rise(head) * rise(tail);
  }
  return out;
}

/// Mean of |DFT|^2 in the third octave around each centre; the piece is padded so that each band holds bins.
std::vector<double> band_powers(std::vector<double> piece, double rate, std::span<const double> centres) {
  const auto n = std::bit_ceil(std::max<std::size_t>(piece.size(), 16384));
  piece.resize(n);
  RealDft dft(static_cast<int>(n));
  const auto m = dft.modulus(piece);
  const double step = rate / static_cast<double>(n), half = std::pow(10, 0.05);
  std::vector<double> out;
  for (const double c : centres) {
    const auto lo = static_cast<std::size_t>(std::ceil(c / half / step));
    const auto hi = std::min(static_cast<std::size_t>(std::floor(c * half / step)), m.size() - 1);
    double sum = 0;
    for (std::size_t k = lo; k <= hi; ++k) sum += m[k] * m[k];
    out.push_back(hi >= lo && lo > 0 ? sum / static_cast<double>(hi - lo + 1) : 0);
  }
  return out;
}

constexpr double kBefore_s = 0.008, kAfter_s = 0.020;  // of a harmonic's response; 5 and 6 are 34 ms apart
}  // namespace

double Sweep::l_s() const noexcept {
  return std::max(1.0, std::round(f1_hz * wanted_s / std::log(f2_hz / f1_hz))) / f1_hz;
}
double Sweep::duration_s() const noexcept { return l_s() * std::log(f2_hz / f1_hz); }
double Sweep::at_s(double f_hz) const noexcept { return l_s() * std::log(f_hz / f1_hz); }

std::vector<double> samples_of(const Sweep& s) {
  demand(s);
  const double l = s.l_s(), t_end = s.duration_s();
  std::vector<double> x(static_cast<std::size_t>(std::floor(t_end * s.rate_hz)));
  for (std::size_t k = 0; k < x.size(); ++k) {
    const double t = static_cast<double>(k) / s.rate_hz;
    x[k] = std::sin(2 * pi * s.f1_hz * l * std::exp(t / l)) * rise(t / 0.010) * rise((t_end - t) / 0.005);
  }
  return x;
}

Impulse impulse_of(std::span<const double> record, const Sweep& s) {
  demand(s);
  // Room for the harmonics, which lie before the linear part.
  const auto length =
      record.size() + static_cast<std::size_t>((s.l_s() * std::log(kHarmonics) + 0.01) * s.rate_hz);
  const auto n = std::bit_ceil(std::max<std::size_t>(length, 16));
  std::vector<double> padded(record.begin(), record.end());
  padded.resize(n);
  RealDft dft(static_cast<int>(n));
  auto y = dft.transform(padded);
  const double step = s.rate_hz / static_cast<double>(n), lowest = s.f1_hz / std::numbers::sqrt2;
  for (std::size_t k = 0; k < y.size(); ++k) {
    const double f = step * static_cast<double>(k);
    const double in = rise((f - lowest) / (s.f1_hz - lowest));
    const double out = rise((s.rate_hz / 2 - f) / (s.rate_hz / 2 - s.f2_hz));
    y[k] *= f > lowest ? in * out / s.rate_hz * inverse_spectrum(s, f) : 0;
  }
  Impulse i;
  i.h = real_inverse_dft(y, static_cast<int>(n));
  i.rate_hz = s.rate_hz;
  if (record.empty()) return i;
  // The whole answer lies inside the record, so that the rest of an earlier one is not taken for it.
  const auto sweep = static_cast<std::size_t>(s.duration_s() * s.rate_hz);
  const auto last = record.size() > sweep ? record.size() - sweep : record.size();
  const auto end = i.h.begin() + static_cast<std::ptrdiff_t>(last);
  const auto peak =
      std::max_element(i.h.begin(), end, [](double a, double b) { return std::abs(a) < std::abs(b); });
  i.delay = static_cast<std::size_t>(peak - i.h.begin());
  // Elsewhere: what is neither the linear part nor a harmonic.
  const double from = static_cast<double>(i.delay) - s.l_s() * std::log(12.0) * s.rate_hz;
  double sum = 0;
  std::size_t count = 0;
  for (std::size_t k = 0; k < record.size(); ++k) {
    const auto at = static_cast<double>(k);
    if (at > from && at < static_cast<double>(i.delay) + 0.1 * s.rate_hz) continue;
    sum += i.h[k] * i.h[k], ++count;
  }
  const double rms = std::sqrt(sum / static_cast<double>(std::max<std::size_t>(count, 1)));
  i.crest = *peak == 0 ? 0 : std::abs(*peak) / std::max(rms, 1e-15);
  return i;
}

std::vector<double> response_db(const Impulse& i, std::span<const double> centres) {
  auto powers = band_powers(cut(i, static_cast<double>(i.delay), 0.020 * i.rate_hz, 0.050 * i.rate_hz),
                            i.rate_hz, centres);
  for (double& p : powers) p = db(p);
  return powers;
}

std::vector<double> third_octaves_hz(double from_hz, double to_hz) {
  std::vector<double> out;
  for (int k = -20; k <= 14; ++k) {
    const double f = 1000 * std::pow(10, k / 10.0);
    if (f >= 0.99 * from_hz && f <= 1.01 * to_hz) out.push_back(f);
  }
  return out;
}

std::vector<double> thd_by_band(const Impulse& i, const Sweep& s, std::span<const double> centres) {
  const double before = kBefore_s * i.rate_hz, after = kAfter_s * i.rate_hz;
  const auto delay = static_cast<double>(i.delay);
  const auto fundamental = band_powers(cut(i, delay, before, after), i.rate_hz, centres);
  std::vector<double> sum(centres.size());
  for (int n = 2; n <= kHarmonics; ++n) {
    std::vector<double> at(centres.begin(), centres.end());
    for (double& f : at) f *= n;
    const double place = delay - s.l_s() * std::log(static_cast<double>(n)) * i.rate_hz;
    const auto harmonic = band_powers(cut(i, place, before, after), i.rate_hz, at);
    // 60 and 100 ms after the linear part: rooms are quiet by then, so it is noise.
    const auto noise_a = band_powers(cut(i, delay + 0.10 * i.rate_hz, before, after), i.rate_hz, at);
    const auto noise_b = band_powers(cut(i, delay + 0.14 * i.rate_hz, before, after), i.rate_hz, at);
    for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += harmonic[k] - (noise_a[k] + noise_b[k]) / 2;
  }
  std::vector<double> out;
  for (std::size_t k = 0; k < sum.size(); ++k)
    out.push_back(fundamental[k] > 1e-30 ? std::sqrt(std::max(0.0, sum[k]) / fundamental[k]) : 0);
  return out;
}

double thd_f(std::span<const double> a) {
  if (a.empty() || a.front() == 0) throw std::invalid_argument("thd: a fundamental is needed");
  return std::sqrt(std::inner_product(a.begin() + 1, a.end(), a.begin() + 1, 0.0)) / std::abs(a.front());
}
double thd_r(std::span<const double> a) {
  const double f = thd_f(a);
  return f / std::sqrt(1 + f * f);
}

std::optional<Quiet> quiet_in(std::span<const double> record, const Sweep& s, std::size_t delay,
                              double seconds) {
  const auto size = static_cast<std::size_t>(seconds * s.rate_hz);
  const auto margin = static_cast<std::size_t>(0.005 * s.rate_hz);
  const auto end = delay + static_cast<std::size_t>((s.duration_s() + 0.1) * s.rate_hz);
  if (size == 0) return std::nullopt;
  std::optional<Quiet> best;
  for (std::size_t from = 0; from + size <= record.size(); from += size / 2) {
    if (from < end && from + size + margin > delay) continue;
    const auto piece = record.subspan(from, size);
    const double ss = std::inner_product(piece.begin(), piece.end(), piece.begin(), 0.0);
    const double rms = std::sqrt(ss / static_cast<double>(size));
    if (!best || rms < best->rms) best = Quiet{from, size, rms};
  }
  return best;
}

namespace {
constexpr std::size_t kWindow = 1024, kHop = 512;

/// |DFT|^2 of 1024 samples under a Hann window.
std::vector<double> powers_at(RealDft& dft, std::span<const double> record, std::size_t from) {
  std::vector<double> x(kWindow);
  for (std::size_t k = 0; k < kWindow; ++k)
    x[k] = record[from + k] * (0.5 - 0.5 * std::cos(2 * pi * static_cast<double>(k) / kWindow));
  auto m = dft.modulus(x);
  for (double& v : m) v *= v;
  return m;
}

std::vector<double> noise_powers(RealDft& dft, std::span<const double> record, const Quiet& q) {
  std::vector<double> sum(kWindow / 2 + 1);
  int frames = 0;
  for (std::size_t at = q.from; at + kWindow <= q.from + q.size; at += kHop, ++frames) {
    const auto p = powers_at(dft, record, at);
    for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += p[k];
  }
  for (double& v : sum) v /= std::max(1, frames);
  return sum;
}
}  // namespace

double rub_buzz_db(std::span<const double> record, const Sweep& s, std::size_t delay, const Quiet& quiet,
                   double from_hz, double to_hz) {
  RealDft dft(static_cast<int>(kWindow));
  const auto noise = noise_powers(dft, record, quiet);
  const double step = s.rate_hz / kWindow;
  std::vector<double> high, low;
  const auto begin = static_cast<std::size_t>(s.at_s(from_hz) * s.rate_hz) + delay;
  const auto end = static_cast<std::size_t>(s.at_s(to_hz) * s.rate_hz) + delay;
  for (std::size_t at = begin; at <= end && at >= kWindow / 2 && at + kWindow / 2 <= record.size();
       at += kHop) {
    const double f = s.f1_hz * std::exp(static_cast<double>(at - delay) / s.rate_hz / s.l_s());
    const auto p = powers_at(dft, record, at - kWindow / 2);
    // The sweep moves within the window: half a window later it is this much higher.
    const double border = 10 * f * std::exp(kWindow / 2 / s.rate_hz / s.l_s());
    double above = 0, below = 0;
    for (std::size_t k = 2; k < p.size(); ++k) {
      const double g = step * static_cast<double>(k);
      if (g > 0.9 * s.f2_hz) break;
      (g > border ? above : below) += p[k] - noise[k];
    }
    high.push_back(above), low.push_back(below);
  }
  constexpr std::size_t mean_over = 4;
  double worst = 0;
  for (std::size_t k = 0; k + mean_over <= high.size(); ++k) {
    const auto sum = [k](const std::vector<double>& v) {
      const auto first = v.begin() + static_cast<std::ptrdiff_t>(k);
      return std::accumulate(first, first + static_cast<std::ptrdiff_t>(mean_over), 0.0);
    };
    if (sum(low) > 0) worst = std::max(worst, sum(high) / sum(low));
  }
  return db(worst);
}
}  // namespace hb::kernel
