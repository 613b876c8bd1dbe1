/// Hinge-angle sweep: the angle sensor over guided close-open cycles and reference stops.
/// Capture   events sorted by phone time (seconds since boot), degrees as reported; what each poll of the
///           sensor's ring of recent events showed; the windows of the cycles and of the stops; fold states.
/// Measures  see README.md: degrees, u with k = 1.
/// Errors    acquire: unsupported (fold state forced, no such sensor, values masked, no events: "not
///           exercised", never "dead"), timed_out (the hands never finished), what the phone and hands give.
///           measure: unsupported (no events), bad_format (a torn capture: times that do not increase).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   isotonic fit: checks/kernel/isotonic.hpp; hinge angle 0 closed, 180 flat: AOSP sensor type 36.
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct HingeSweep {
  struct Config {
    int sensor_type = 36;
    double closed_deg = 0, flat_deg = 180;
    int cycles = 4;
    std::optional<double> fold_closed_below_deg, fold_open_above_deg;
  };
  struct Event {
    double t_s = 0, deg = 0;
    friend bool operator==(const Event&, const Event&) = default;
  };
  /// What one poll showed: every event between these two times was in it, so none between them was missed.
  struct Poll {
    double oldest_s = 0, newest_s = 0;
    friend bool operator==(const Poll&, const Poll&) = default;
  };
  /// Fold state 0 unknown, 1 closed, 2 half open, 3 open, read after the event at `after_s` and before the
  /// event at `before_s` (the newest of the polls around it).
  struct State {
    double after_s = 0, before_s = 0;
    int state = 0;
    friend bool operator==(const State&, const State&) = default;
  };
  struct Window {
    double begin_s = 0, end_s = 0;
    friend bool operator==(const Window&, const Window&) = default;
  };
  struct Stop {
    double at_deg = 0, from_deg = 0;
    Window window;
    friend bool operator==(const Stop&, const Stop&) = default;
  };
  struct Capture {
    std::vector<Event> events;
    std::vector<Poll> polls;
    std::vector<State> states;
    Window cycles;
    std::vector<Stop> stops;
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  /// unsupported: the profile has no [hinge] section, so the model has no hinge.
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
};

void to_json(nlohmann::json& j, const HingeSweep::Capture& c);
void from_json(const nlohmann::json& j, HingeSweep::Capture& c);

static_assert(CheckDefinition<HingeSweep>);
}  // namespace hb::checks
