/// The vibration motor, by the phone's own accelerometer; where that cannot tell, by the technician's word.
/// Capture   accelerometer events at rest and while the motor was started, burst by burst, on the phone's
///           clock, m/s^2; the technician's answer when it was asked for.
/// Measures  see README.md; u with k = 1.
/// Errors    acquire: unsupported (no command that starts the motor), timed_out (the hands never finished),
///           what the phone and hands give. measure: unsupported (neither sensor nor technician can tell),
///           bad_format (torn).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   `cmd vibrator_manager`: AOSP VibratorManagerService; sine at uneven times by least squares:
///           Lomb, Astrophys. Space Sci. 39 (1976) 447.
#pragma once

#include <array>

#include "checks/definition.hpp"

namespace hb::checks {

struct Vibration {
  struct Config {
    double motor_hz = 0;  ///< of the model's motor
    int bursts = 3;
  };
  struct Sample {
    double t_s = 0;
    std::array<double, 3> value{};
    friend bool operator==(const Sample&, const Sample&) = default;
  };
  struct Capture {
    std::vector<Sample> rest;
    std::vector<std::vector<Sample>> bursts;
    std::optional<bool> felt;  ///< the technician's word; not asked for when the sensor saw every burst
    friend bool operator==(const Capture&, const Capture&) = default;
  };
  /// What the accelerometer says of one burst.
  struct Shake {
    double rms_ms2 = 0;     ///< root of the summed variances of the three axes
    double line_share = 0;  ///< of that variance, what one sine near the motor's frequency explains
    bool seen = false;      ///< clearly above rest, and mostly that sine
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  /// unsupported: the profile has no [vibration].
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
  /// One a burst; nullopt where there are too few events to tell.
  [[nodiscard]] static std::vector<std::optional<Shake>> shakes(const Capture& capture, const Config& config);
};

void to_json(nlohmann::json& j, const Vibration::Capture& c);
void from_json(const nlohmann::json& j, Vibration::Capture& c);

static_assert(CheckDefinition<Vibration>);
}  // namespace hb::checks
