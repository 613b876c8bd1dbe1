/// Small sensors of the front, the fingerprint reader and the camera light: does the phone list them, and
/// does the light sensor see a finger over it.
/// Capture   per sensor of the profile: listed or not, values open and covered; numbers of camera lights and
///           of fingerprint readers.
/// Measures  see README.md; u with k = 1.
/// Errors    acquire: timed_out (the hands never finished), what the phone and hands give. measure:
///           bad_format (a capture that is not of this profile's sensors). A silent sensor has no values: its
///           limits then make the check not tested, never failed.
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   sensor types (5 light in lux, 8 proximity in cm): AOSP sensors.h.
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct Presence {
  struct Sensor {
    ShopText name;
    int type = 0;
    bool covered = false;  ///< to be covered by a finger, too
  };
  struct Config {
    std::vector<Sensor> sensors;
    bool camera_light = false, fingerprint = false;
    double listen_s = 2;
  };
  struct Heard {
    int type = 0;
    bool listed = false;
    std::vector<double> open, covered;
    friend bool operator==(const Heard&, const Heard&) = default;
  };
  struct Capture {
    std::vector<Heard> sensors;
    std::optional<int> camera_lights, fingerprint_readers;
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  /// unsupported: the profile lists no [[sensor]].
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
};

void to_json(nlohmann::json& j, const Presence::Capture& c);
void from_json(const nlohmann::json& j, Presence::Capture& c);

static_assert(CheckDefinition<Presence>);
}  // namespace hb::checks
