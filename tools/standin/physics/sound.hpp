/// The way of sound: a played sweep, a small loudspeaker or earpiece, its mesh, the air, a microphone's mesh,
/// the microphone. A transducer is a resonance that passes what is above it; its membrane bends softly, so
/// that a large excursion adds harmonics; a fault makes it touch something. Filters: R. Bristow-Johnson's
/// audio EQ formulas (from memory). Threads: pure.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tools/standin/physics/faults.hpp"
#include "tools/standin/physics/model.hpp"

namespace hb::standin {
/// What lies over an opening: passes the low frequencies.
struct MeshUnit {
  double corner_hz = 16000, loss_db = 0;
};
struct SpeakerUnit {
  std::string part;
  bool dead = false;
  double resonance_hz = 750, q = 1.2, gain_db = 0;
  double bend2 = 0.02, bend3 = 0.01;  ///< of an excursion of one, which a sweep of 0.25 has below resonance
  double rub = 0;                     ///< noise while the membrane touches, for each excursion beyond 0.55
  MeshUnit mesh;
};
struct MicrophoneUnit {
  std::string part;
  bool dead = false;
  double gain_db = 0;
  MeshUnit mesh;
  std::vector<double> levels_db, delays_s;  ///< from each speaker
};
struct SoundUnit {
  std::uint64_t seed = 1;
  std::vector<SpeakerUnit> speakers;
  std::vector<MicrophoneUnit> microphones;
  double room_dbfs = -75;  ///< rms of the room's noise in a good microphone
};
[[nodiscard]] SoundUnit make_sound(const ModelSpec& model, std::uint64_t seed, const Faults& faults);

/// lead, sweep sin(2 pi f1 L e^(t/L)) with f1 L whole and half-cosine ends of 10 and 5 ms, tail.
struct Playing {
  int output = 0, microphone = 0, rate_hz = 48000;
  double f1_hz = 100, f2_hz = 20000, sweep_s = 1, level = 0.25, lead_s = 0.3, tail_s = 0.7;
};
/// What the microphone gives, 16 bit; the sound system's delay (40 to 120 ms) and the noise are those of
/// `take`. Empty: no such output or microphone.
[[nodiscard]] std::vector<std::int16_t> record(const SoundUnit& unit, const Playing& playing,
                                               std::uint64_t take);
}  // namespace hb::standin
