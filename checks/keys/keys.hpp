/// Side keys and the lid switch, by the kernel's own events.
/// Capture   events of the profile's keys and of the lid switch in the order they came, each with the part of
///           the check that it belongs to; which keys the phone listed as held down, and when.
/// Measures  see README.md: counts are exact (u = 0), the longest press in seconds.
/// Errors    acquire: unsupported (a key or lid switch of the profile that the phone does not list),
/// timed_out
///           (the hands never finished), what the phone and hands give. measure: bad_format (a capture that
///           is not of this profile's keys).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   event types and codes: Linux include/uapi/linux/input-event-codes.h.
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct Keys {
  struct Key {
    ShopText name;
    int code = 0;
  };
  struct Config {
    std::vector<Key> keys;
    int presses = 3;
    bool lid_switch = false;
  };
  enum class Phase { rest, presses, fold };
  struct Event {
    Phase phase = Phase::rest;
    double t_s = 0;     ///< the phone's time stamp
    bool lid = false;   ///< the lid switch, else a key
    int code = 0;       ///< of a key
    bool down = false;  ///< pressed, or closed
    friend bool operator==(const Event&, const Event&) = default;
  };
  struct Capture {
    std::vector<Event> events;
    std::vector<int> asked;         ///< codes whose presses were asked for
    std::vector<int> down_at_rest;  ///< held down with nobody touching the phone
    std::vector<int> down_after;    ///< still held down after the presses
    bool folded = false;            ///< one fold was asked for and done
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  /// unsupported: the profile lists no [[key]]. invalid_argument: a code that stands twice.
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
};

void to_json(nlohmann::json& j, const Keys::Capture& c);
void from_json(const nlohmann::json& j, Keys::Capture& c);

static_assert(CheckDefinition<Keys>);
}  // namespace hb::checks
