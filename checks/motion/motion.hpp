/// Accelerometer and gyroscope, with the phone at rest on each of its six faces.
/// Capture   per face: events of both sensors that came while the phone lay still, on the phone's clock;
///           accelerometer m/s^2, gyroscope rad/s, axes x right, y top edge, z out of the screen (AOSP).
/// Measures  see README.md; u with k = 1.
/// Errors    acquire: unsupported (no accelerometer, values masked, no events: "not exercised", never
/// "dead"),
///           timed_out (the hands never finished), what the phone and hands give. measure: unsupported (a
///           face with too few events, or not the face that was asked for), bad_format (a torn capture).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   g_n = 9.80665 m/s^2: 3rd CGPM, 1901. Six-position test: IEEE Std 1293 (offset is half the sum,
///           scale half the difference of opposite faces; from memory). Sensor types 1 and 4: AOSP sensors.h.
#pragma once

#include <array>

#include "checks/definition.hpp"

namespace hb::checks {

struct Motion {
  struct Config {
    double rest_s = 2;  ///< listened to on each face
    bool gyroscope = true;
  };
  struct Sample {
    double t_s = 0;
    std::array<double, 3> value{};
    friend bool operator==(const Sample&, const Sample&) = default;
  };
  struct Face {
    int face = 0;  ///< 1..6, as checks::Face
    std::vector<Sample> accelerometer, gyroscope;
    friend bool operator==(const Face&, const Face&) = default;
  };
  struct Capture {
    std::vector<Face> faces;
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
};

void to_json(nlohmann::json& j, const Motion::Capture& c);
void from_json(const nlohmann::json& j, Motion::Capture& c);

static_assert(CheckDefinition<Motion>);
}  // namespace hb::checks
