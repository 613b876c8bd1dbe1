#include <algorithm>
#include <cmath>

#include "checks/kernel/sound.hpp"
#include "checks/sound/sound.hpp"

namespace hb::checks {
namespace {
constexpr double kHeard = 15;  // peak over the rest of the impulse response; noise alone stays under 10
constexpr double kQuiet_s = 0.1;
constexpr int kClipped = 8;                            // samples at full scale
constexpr double kRubFrom_hz = 200, kRubTo_hz = 1200;  // ten times the last is still inside the sweep
}  // namespace

Sound::Take Sound::analyse(const Recording& recording, const SweepAsk& asked) {
  Take t;
  const kernel::Sweep sweep{asked.f1_hz, asked.f2_hz, static_cast<double>(recording.rate_hz), asked.sweep_s};
  if (!(recording.rate_hz > 2.05 * asked.f2_hz)) {
    t.seen = Found::too_slow;
    return t;
  }
  std::vector<double> x;
  x.reserve(recording.samples.size());
  for (const std::int16_t v : recording.samples) x.push_back(v / 32768.0);
  const auto impulse = kernel::impulse_of(x, sweep);
  const auto quiet = kernel::quiet_in(x, sweep, impulse.delay, kQuiet_s);
  // Silence to the last bit is 16 bits' own noise.
  if (quiet) t.noise_dbfs = 20 * std::log10(std::max(quiet->rms, 1 / 32768.0 / std::sqrt(12.0)));
  const auto full = std::count_if(recording.samples.begin(), recording.samples.end(),
                                  [](std::int16_t v) { return v >= 32767 || v <= -32767; });
  if (impulse.crest < kHeard) return t;
  t.seen = full >= kClipped ? Found::clipped : quiet ? Found::heard : Found::no_quiet;
  if (t.seen != Found::heard) return t;
  t.band_db = kernel::response_db(impulse, kernel::third_octaves_hz(200, 10000));
  for (double& v : t.band_db) v -= 20 * std::log10(asked.level);
  t.thd = kernel::thd_by_band(impulse, sweep, kernel::third_octaves_hz(400, 2000));
  t.rub_db = kernel::rub_buzz_db(x, sweep, impulse.delay, *quiet, kRubFrom_hz, kRubTo_hz);
  return t;
}
}  // namespace hb::checks
