// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>

#include "checks/kernel/summary.hpp"
#include "checks/sound/sound.hpp"

namespace hb::checks {
namespace {
using Found = Sound::Found;
constexpr double kPlacing_u_db = 0.5;  // how the phone lies, the volume's steps: common practice, no source
constexpr double kThd_u_pct = 0.3, kRub_u_db = 1.5;
constexpr double kLoudRoom_dbfs = -45, kLeastRub_db = -70;  // less is noise taken off noise

struct Value {
  double value = 0, u = 0;
  std::int64_t n = 0;
};

double mean_of(const std::vector<double>& v, std::size_t from, std::size_t to) {
  return kernel::mean(std::span(v).subspan(from, to - from + 1));
}
// Indices of third octaves from 200 Hz: 6 is 800 Hz, 10 is 2 kHz, 13 is 4 kHz, 14 is 5 kHz, 17 is 10 kHz.
double level_db(const Sound::Take& t) { return mean_of(t.band_db, 6, 13); }
double treble_db(const Sound::Take& t) { return mean_of(t.band_db, 14, 17) - mean_of(t.band_db, 6, 10); }
double thd_pct(const Sound::Take& t) { return 100 * *std::max_element(t.thd.begin(), t.thd.end()); }
double rub_db(const Sound::Take& t) { return std::max(t.rub_db, kLeastRub_db); }

/// The takes of one speaker with one microphone.
struct Pair {
  std::vector<const Sound::Take*> takes;
  double reference_db = 0;
  [[nodiscard]] bool heard() const {
    return !takes.empty() && std::all_of(takes.begin(), takes.end(), [](const auto* t) {
      return t->seen == Found::heard || t->seen == Found::clipped || t->seen == Found::no_quiet;
    });
  }
  [[nodiscard]] bool measured() const {
    return !takes.empty() &&
           std::all_of(takes.begin(), takes.end(), [](const auto* t) { return t->seen == Found::heard; });
  }
  template <class F>
  [[nodiscard]] Value value(F number, double floor_u) const {
    std::vector<double> v;
    for (const auto* t : takes) v.push_back(number(*t));
    return {kernel::mean(v), std::hypot(kernel::mean_uncertainty(v), floor_u),
            static_cast<std::int64_t>(v.size())};
  }
};
using Pairs = std::vector<Pair>;

/// The best of the pairs that were measured, so that one bad partner does not count against a part.
template <class F>
std::optional<Value> best(const Pairs& pairs, F number, double floor_u, bool highest) {
  std::optional<Value> out;
  for (const Pair& p : pairs) {
    if (!p.measured()) continue;
    Value v = p.value([&](const Sound::Take& t) { return number(t, p); }, floor_u);
    if (!out || (highest ? v.value > out->value : v.value < out->value)) out = v;
  }
  return out;
}

Pairs pairs_of(const Sound::Capture& c, const Sound::Config& config, const ShopText* speaker,
               const ShopText* microphone) {
  Pairs out;
  for (std::size_t s = 0; s < config.speakers.size(); ++s)
    for (const auto& m : config.microphones) {
      const auto& name = config.speakers[s].name;
      if ((speaker != nullptr && !(name == *speaker)) || (microphone != nullptr && !(m.name == *microphone)))
        continue;
      Pair p;
      p.reference_db = m.levels_db[s];
      for (const auto& t : c.takes)
        if (t.speaker == name.str() && t.microphone == m.name.str()) p.takes.push_back(&t);
      if (!p.takes.empty()) out.push_back(std::move(p));
    }
  return out;
}

bool torn(const Sound::Capture& c) {
  const auto wild = [](const std::vector<double>& v) {
    return std::any_of(v.begin(), v.end(), [](double x) { return !(std::abs(x) < 1e4); });
  };
  return std::any_of(c.takes.begin(), c.takes.end(), [&](const Sound::Take& t) {
    const bool sized =
        t.seen != Found::heard || (t.band_db.size() == Sound::kBands && t.thd.size() == Sound::kThdBands);
    return !sized || wild(t.band_db) || wild(t.thd) || !(std::abs(t.rub_db) < 1e4) ||
           !(std::abs(t.noise_dbfs) < 1e4);
  });
}

/// Whether the phone was asked but the room answered.
std::optional<Error> unusable(const Sound::Capture& c) {
  for (const auto& t : c.takes)
    if (t.seen == Found::too_slow)
      return Error{ErrorCode::unsupported, "the phone's browser records at too low a rate", "sound",
                   "Take wireless headsets off, or use another browser."};
  const bool loud = std::any_of(c.takes.begin(), c.takes.end(), [](const auto& t) {
    return t.seen == Found::no_quiet || t.noise_dbfs > kLoudRoom_dbfs;
  });
  if (loud)
    return Error{ErrorCode::unsupported, "the room is too loud to listen to the phone", "sound",
                 "Run this check again where it is quiet."};
  return std::nullopt;
}

void add(Measured& out, Term key, const ShopText& part, std::optional<Value> v, Term unit) {
  if (v) out.measures.push_back({key, part, v->value, v->u, unit, v->n});
}
std::optional<Value> heard(const Pairs& pairs) {
  if (pairs.empty()) return std::nullopt;  // out of the browser's reach
  const bool any = std::any_of(pairs.begin(), pairs.end(), [](const Pair& p) { return p.heard(); });
  std::int64_t n = 0;
  for (const Pair& p : pairs) n += static_cast<std::int64_t>(p.takes.size());
  return Value{any ? 1.0 : 0.0, 0, n};
}
}  // namespace

Result<Measured> Sound::measure(const Capture& capture, const Config& config) {
  if (torn(capture))
    return Error{ErrorCode::bad_format, "the capture is torn: a value is out of range", "sound",
                 "Run the check again."};
  if (capture.takes.empty())
    return Error{ErrorCode::unsupported,
                 "the phone's browser offers none of the profile's speakers and microphones", "sound",
                 "Use another browser, or listen to it by ear."};
  if (auto why = unusable(capture)) return *why;
  const auto level = [](const Take& t, const Pair& p) { return level_db(t) - p.reference_db; };
  const auto treble = [](const Take& t, const Pair&) { return treble_db(t); };
  Measured out;
  for (const auto& s : config.speakers) {
    const Pairs pairs = pairs_of(capture, config, &s.name, nullptr);
    add(out, "sound.speaker_heard", s.name, heard(pairs), "1");
    add(out, "sound.speaker_level_db", s.name, best(pairs, level, kPlacing_u_db, true), "dB");
    add(out, "sound.speaker_treble_db", s.name, best(pairs, treble, kPlacing_u_db, true), "dB");
    add(out, "sound.speaker_thd_pct", s.name,
        best(
            pairs, [](const Take& t, const Pair&) { return thd_pct(t); }, kThd_u_pct, false),
        "%");
    add(out, "sound.speaker_rub_buzz_db", s.name,
        best(
            pairs, [](const Take& t, const Pair&) { return rub_db(t); }, kRub_u_db, false),
        "dB");
  }
  for (const auto& m : config.microphones) {
    const Pairs pairs = pairs_of(capture, config, nullptr, &m.name);
    add(out, "sound.microphone_heard", m.name, heard(pairs), "1");
    add(out, "sound.microphone_level_db", m.name, best(pairs, level, kPlacing_u_db, true), "dB");
    add(out, "sound.microphone_treble_db", m.name, best(pairs, treble, kPlacing_u_db, true), "dB");
    std::vector<double> noise;
    for (const Pair& p : pairs)
      for (const auto* t : p.takes) noise.push_back(t->noise_dbfs);
    if (!noise.empty())
      add(out, "sound.microphone_noise_dbfs", m.name,
          Value{kernel::mean(noise), std::hypot(kernel::mean_uncertainty(noise), kPlacing_u_db),
                static_cast<std::int64_t>(noise.size())},
          "dB");
  }
  return out;
}
}  // namespace hb::checks
