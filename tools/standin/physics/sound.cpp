#include "tools/standin/physics/sound.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "tools/standin/physics/noise.hpp"

namespace hb::standin {
namespace {
using Samples = std::vector<double>;
constexpr double kTouch = 0.55;      // excursion at which a rubbing membrane touches
constexpr double kReference = 0.25;  // sample that gives an excursion of one
constexpr double kSound_m_s = 343;

double factor(double db) { return std::pow(10, db / 20); }

/// y = b0 x + b1 x1 + b2 x2 - a1 y1 - a2 y2.
struct Biquad {
  double b0, b1, b2, a1, a2;
  [[nodiscard]] Samples operator()(const Samples& x) const {
    Samples y(x.size());
    double x1 = 0, x2 = 0, y1 = 0, y2 = 0;
    for (std::size_t k = 0; k < x.size(); ++k) {
      y[k] = b0 * x[k] + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
      x2 = x1, x1 = x[k], y2 = y1, y1 = y[k];
    }
    return y;
  }
};
Biquad resonant(double f, double q, double rate, bool low) {
  const double w = 2 * std::numbers::pi * f / rate, alpha = std::sin(w) / (2 * q), c = std::cos(w);
  const double a0 = 1 + alpha, edge = (low ? 1 - c : 1 + c) / 2 / a0;
  return {edge, (low ? 2 : -2) * edge, edge, -2 * c / a0, (1 - alpha) / a0};
}
Samples low_passed(Samples x, double corner_hz, double rate) {
  const double a = std::exp(-2 * std::numbers::pi * corner_hz / rate);
  double y = 0;
  for (double& v : x) v = y = (1 - a) * v + a * y;
  return x;
}
Samples high_passed(Samples x, double corner_hz, double rate) {
  const Samples low = low_passed(x, corner_hz, rate);
  for (std::size_t k = 0; k < x.size(); ++k) x[k] -= low[k];
  return x;
}
Samples through(const MeshUnit& m, Samples x, double rate) {
  x = low_passed(std::move(x), m.corner_hz, rate);
  for (double& v : x) v *= factor(-m.loss_db);
  return x;
}

Samples sweep_of(const Playing& p, std::size_t size) {
  const double ratio = std::log(p.f2_hz / p.f1_hz);
  const double l = std::max(1.0, std::round(p.f1_hz * p.sweep_s / ratio)) / p.f1_hz, end = l * ratio;
  const auto rise = [](double u) { return 0.5 - 0.5 * std::cos(std::numbers::pi * std::clamp(u, 0.0, 1.0)); };
  Samples x(size);
  for (std::size_t k = 0; k < size; ++k) {
    const double t = static_cast<double>(k) / p.rate_hz - p.lead_s;
    if (t >= 0 && t <= end)
      x[k] = p.level * rise(t / 0.010) * rise((end - t) / 0.005) *
             std::sin(2 * std::numbers::pi * p.f1_hz * l * std::exp(t / l));
  }
  return x;
}

Samples from_speaker(const SpeakerUnit& s, Samples x, double rate, const Noise& rattle) {
  if (s.dead) return Samples(x.size());
  const Samples excursion = resonant(s.resonance_hz, s.q, rate, true)(x);
  Samples scrape(x.size());
  for (std::size_t k = 0; k < x.size(); ++k) {
    const double d = excursion[k] / kReference;
    x[k] += kReference * (s.bend2 * d * d + s.bend3 * d * d * d);
    scrape[k] = kReference * s.rub * std::max(0.0, d - kTouch);
    if (scrape[k] > 0) scrape[k] *= rattle.gauss(k);
  }
  Samples y = resonant(s.resonance_hz, s.q, rate, false)(x);
  for (std::size_t k = 0; k < y.size(); ++k) y[k] = factor(s.gain_db) * (y[k] + scrape[k]);
  return through(s.mesh, std::move(y), rate);
}

void add_delayed(Samples& to, const Samples& from, double seconds, double gain, double rate) {
  const auto late = static_cast<std::size_t>(std::lround(seconds * rate));
  for (std::size_t k = late; k < to.size(); ++k) to[k] += gain * from[k - late];
}

/// Grey noise of rms 1, most of it under 500 Hz.
Samples room(std::size_t size, double rate, const Noise& noise) {
  Samples white(size);
  for (std::size_t k = 0; k < size; ++k) white[k] = noise.gauss(k);
  Samples low = low_passed(white, 500, rate);
  const double a = std::exp(-2 * std::numbers::pi * 500 / rate), low_rms = std::sqrt((1 - a) / (1 + a));
  for (std::size_t k = 0; k < size; ++k) low[k] = 0.9 * low[k] / low_rms + 0.3 * white[k];
  return low;
}

MeshUnit mesh_of(double spread, double blocked) {
  return {16000 * spread * std::pow(1500.0 / 16000, blocked), 10 * blocked};
}
}  // namespace

SoundUnit make_sound(const ModelSpec& model, std::uint64_t seed, const Faults& faults) {
  const Noise spread(seed, "sound");
  SoundUnit u;
  u.seed = seed;
  u.room_dbfs = spread.uniform(0, -78, -72);
  for (std::size_t i = 0; i < model.speakers.size(); ++i) {
    const auto n = 20 * (i + 1);
    SpeakerUnit s;
    s.part = model.speakers[i].part;
    s.resonance_hz = model.speakers[i].resonance_hz * spread.uniform(n, 0.93, 1.07);
    s.q = spread.uniform(n + 1, 1.05, 1.35);
    s.gain_db = spread.uniform(n + 2, -1.5, 1.5);
    s.bend2 = 0.02 * spread.uniform(n + 3, 0.6, 1.4);
    s.bend3 = 0.01 * spread.uniform(n + 4, 0.6, 1.4);
    s.mesh =
        mesh_of(spread.uniform(n + 5, 0.9, 1.1), i == 0 ? faults.degree(Fault::speaker_mesh_blocked) : 0.0);
    s.dead = faults.has(i == 0 ? Fault::speaker_dead : Fault::earpiece_dead);
    if (i == 0) {
      const double torn = faults.degree(Fault::speaker_torn);
      s.bend2 += 0.20 * torn, s.bend3 += 0.12 * torn, s.gain_db -= 3 * torn;
      s.rub = 0.2 * faults.degree(Fault::speaker_rub);
    }
    u.speakers.push_back(std::move(s));
  }
  for (std::size_t i = 0; i < model.microphones.size(); ++i) {
    const auto n = 20 * (i + 11);
    MicrophoneUnit m;
    m.part = model.microphones[i].part;
    m.gain_db = spread.uniform(n, -1.5, 1.5);
    m.mesh = mesh_of(spread.uniform(n + 1, 0.9, 1.1),
                     i == 0 ? faults.degree(Fault::microphone_mesh_blocked) : 0.0);
    m.dead = i == 0 && faults.has(Fault::microphone_dead);
    m.levels_db = model.microphones[i].levels_db;
    for (const double mm : model.microphones[i].distances_mm) m.delays_s.push_back(mm / 1000 / kSound_m_s);
    u.microphones.push_back(std::move(m));
  }
  return u;
}

std::vector<std::int16_t> record(const SoundUnit& u, const Playing& p, std::uint64_t take) {
  const auto out = static_cast<std::size_t>(p.output), in = static_cast<std::size_t>(p.microphone);
  if (p.output < 0 || out >= u.speakers.size() || p.microphone < 0 || in >= u.microphones.size()) return {};
  const double rate = p.rate_hz;
  const auto size = static_cast<std::size_t>(std::lround((p.lead_s + p.sweep_s + p.tail_s) * rate));
  const std::uint64_t key = mixed(u.seed ^ mixed(take));
  const MicrophoneUnit& m = u.microphones[in];
  Samples heard(size);
  if (!m.dead) {
    const Samples sound = from_speaker(u.speakers[out], sweep_of(p, size), rate, Noise(key, "rattle"));
    const double late = Noise(key, "sound system").uniform(0, 0.04, 0.12) + m.delays_s[out];
    add_delayed(heard, sound, late, factor(m.levels_db[out] + m.gain_db), rate);
    // Off the bench's top, 16 cm longer.
    add_delayed(heard, sound, late + 0.16 / kSound_m_s, 0.2 * factor(m.levels_db[out] + m.gain_db), rate);
    const Samples around = room(size, rate, Noise(key, "room"));
    for (std::size_t k = 0; k < size; ++k) heard[k] += factor(u.room_dbfs) * around[k];
    heard = high_passed(through(m.mesh, std::move(heard), rate), 60, rate);
  }
  const Noise electronics(key, "microphone");
  std::vector<std::int16_t> codes(size);
  for (std::size_t k = 0; k < size; ++k) {
    const double v = 32768 * (heard[k] + factor(-92) * electronics.gauss(k));
    codes[k] = static_cast<std::int16_t>(std::lround(std::clamp(v, -32768.0, 32767.0)));
  }
  return codes;
}
}  // namespace hb::standin
