/// Sound: loudspeaker, earpiece and each microphone. The phone's browser plays a sweep through each output
/// and records it with each microphone; the recordings are measured as they come and dropped.
/// Capture   numbers of each take: response, distortion, rub and buzz, noise; which places the browser has.
/// Measures  see README.md; u with k = 1, from repeated sweeps and the placing on the bench.
/// Errors    acquire: unsupported (no browser may be used, it cannot play and record, the microphone was not
///           allowed), what the page and hands give. measure: unsupported (too loud a room, too slow a
///           recording), bad_format (torn).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
#pragma once

#include <string>
#include <vector>

#include "checks/definition.hpp"

namespace hb::checks {

struct Sound {
  struct Speaker {
    ShopText name;
    int output = 0;  ///< among those of the browser, from 0
  };
  struct Microphone {
    ShopText name;
    int index = 0;                  ///< among those of the browser, from 0
    std::vector<double> levels_db;  ///< a good phone's, 800 Hz to 4 kHz, from each speaker in their order
  };
  struct Config {
    std::vector<Speaker> speakers;
    std::vector<Microphone> microphones;
  };

  enum class Found {
    nothing,   ///< no sweep in the recording
    heard,     ///< and measured
    clipped,   ///< heard, too loud to be measured
    too_slow,  ///< recorded at a rate that cannot hold the sweep
    no_quiet   ///< heard, but nowhere in the recording is it quiet
  };
  static constexpr int kBands = 18;    ///< third octaves 200 Hz to 10 kHz
  static constexpr int kThdBands = 8;  ///< third octaves 400 Hz to 2 kHz
  struct Take {
    std::string speaker, microphone;
    Found seen = Found::nothing;
    std::vector<double> band_db;  ///< of a sample played; kBands when heard
    std::vector<double> thd;      ///< harmonics 2 to 5 over the fundamental; kThdBands when heard
    double rub_db = 0;
    double noise_dbfs = 0;  ///< rms of the quietest tenth of a second; full scale is 1
  };
  struct Capture {
    int outputs = 0, microphones = 0;  ///< that the browser lets a page choose from
    std::vector<Take> takes;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, const Config& config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);

  /// The numbers of one recording of `asked`; total: any recording gives numbers or a reason. Names are left
  /// empty. Source: checks/kernel/sound.hpp.
  [[nodiscard]] static Take analyse(const Recording& recording, const SweepAsk& asked);
};

void to_json(nlohmann::json& j, const Sound::Capture& c);
void from_json(const nlohmann::json& j, Sound::Capture& c);
}  // namespace hb::checks
