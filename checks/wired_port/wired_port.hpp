/// The charging port: the bench's charger cable plugged in one way and then turned, held still and wiggled.
/// Capture   samples of the port's supply about every 150 ms of bench time, on the phone's own clock where it
///           gives one; the link speed that the phone's USB controller reports, each way round.
/// Measures  see README.md; u with k = 1. Parts: "first way", "turned".
/// Errors    acquire: unsupported (link by cable, supply not readable, battery full, phone hot, frozen),
///           safety (too hot or unhealthy while charging), timed_out (the hands never finished), what the
///           phone and hands give. measure: bad_format (torn).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   supply attributes: kernel documentation, ABI/testing/sysfs-class-power; link speed:
///           ABI/stable/sysfs-class-udc. Voltages of USB at the port: USB Type-C specification (from memory).
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct WiredPort {
  struct Config {
    std::string supply;  ///< directory under /sys/class/power_supply
    std::string udc;     ///< directory under /sys/class/udc; empty: the link speed is not read
    double hold_s = 8, wiggle_s = 6;
    double full_above_pct = 95, taper_above_pct = 80, hot_above_c = 43;
  };
  enum class Stage { plugging, still, wiggled };
  struct Sample {
    double t_s = 0;
    int side = 1;  ///< 1 the first way round, 2 turned
    Stage stage = Stage::plugging;
    bool online = false;
    std::optional<double> voltage_mv, current_ma, limit_ma;
    friend bool operator==(const Sample&, const Sample&) = default;
  };
  struct Speed {
    int side = 1;
    double mbit_s = 0;  ///< 0: no link
    friend bool operator==(const Speed&, const Speed&) = default;
  };
  struct Capture {
    double level_pct = 0;  ///< of the battery, before
    std::vector<Sample> samples;
    std::vector<Speed> speeds;
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  /// unsupported: the profile has no [port].
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
  /// "first way" for 1, "turned" for 2.
  [[nodiscard]] static ShopText part(int side);
};

void to_json(nlohmann::json& j, const WiredPort::Capture& c);
void from_json(const nlohmann::json& j, WiredPort::Capture& c);

static_assert(CheckDefinition<WiredPort>);
}  // namespace hb::checks
