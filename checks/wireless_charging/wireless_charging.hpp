/// Wireless charging: put on the pad, hold, shift, lift.
/// Capture   samples about every 500 ms of bench time, on the phone's own clock where it gives one. Stage 0
///           before and while coupling, 1 held still, 2 being pushed, 3 after the shift. Current as the
///           gauges sign it.
/// Measures  see README.md; u with k = 1.
/// Errors    acquire: unsupported (link by cable, frozen or forced states, battery full, phone hot), safety
///           (too hot or unhealthy while charging), timed_out (not laid down), what the phone gives.
///           measure: unsupported (no samples), bad_format (torn).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   dumpsys battery: AOSP BatteryService; nominal classes 5 W and 15 W: public descriptions of Qi.
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct WirelessCharging {
  struct Config {
    double power_w = 5;
    double couple_max_s = 10, hold_s = 40, shift_mm = 4;
    double full_above_pct = 95, taper_above_pct = 80, hot_above_c = 43;
    std::vector<std::string> supplies;  ///< of the [[cell]] tables, for the current; may be empty
  };
  struct Sample {
    double t_s = 0;
    int stage = 0;
    bool wireless = false;
    bool cable = false;
    std::optional<double> current_ma;  ///< sum of the cells, all of them read
    std::optional<double> voltage_mv, counter_mah, temperature_c;
    std::optional<int> level_pct;
    int status = 0;  ///< 0 not reported, else phone::ChargeStatus
    friend bool operator==(const Sample&, const Sample&) = default;
  };
  struct Capture {
    double placed_s = 0;   ///< first reading after the hands said that it lies on the pad
    double place_u_s = 0;  ///< half the time to the reading before it
    std::vector<Sample> samples;
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

void to_json(nlohmann::json& j, const WirelessCharging::Capture& c);
void from_json(const nlohmann::json& j, WirelessCharging::Capture& c);

static_assert(CheckDefinition<WirelessCharging>);
}  // namespace hb::checks
