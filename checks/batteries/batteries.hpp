/// Batteries: rest, a load step, rest again; every cell that the phone exposes, else the pack as one.
/// Capture   samples about once a second of bench time, times on the phone's own clock where it gives one;
///           mV, mA as the gauge signs them, degC, mAh. Phase 0 rest, 1 load, 2 rest.
/// Measures  see README.md; u with k = 1.
/// Errors    acquire: unsupported (readings frozen, thermal state forced, nothing readable, too hot to
///           begin), safety (too hot, voltage out of range, health says so: the load was stopped first), what
///           the phone gives. measure: unsupported (the gauge's sign cannot be settled), bad_format (torn).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   current positive while charging: Linux Documentation/ABI/testing/sysfs-class-power; resistance
///           from a load step: IEC 61960 (DC method); SOH = full / design charge: common practice.
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct Batteries {
  struct Cell {
    ShopText name;
    std::string supply;
    double design_mah = 0;
    std::optional<double> r_design_mohm;  ///< of a healthy cell with its connector: for the current share
  };
  struct Config {
    std::vector<Cell> cells;
    std::vector<double> ocv_soc, ocv_v;
    int load_workers = 4;
    double load_s = 20, rest_s = 20;
    bool parallel = true;
    double hot_stop_c = 45;
  };
  struct Sample {
    double t_s = 0;
    int phase = 0;
    std::optional<double> voltage_mv, current_ma, temperature_c, counter_mah;
    std::optional<int> soc_pct;
    int status = 0;  ///< 0 not reported, else phone::ChargeStatus
    friend bool operator==(const Sample&, const Sample&) = default;
  };
  struct Trace {
    bool readable = false;
    std::optional<bool> present;
    std::optional<double> full_mah, design_mah;
    std::vector<Sample> samples;
    friend bool operator==(const Trace&, const Trace&) = default;
  };
  struct Capture {
    std::vector<Trace> cells;  ///< in the order of Config::cells
    Trace combined;            ///< what the platform says of the whole pack
    double load_on_s = 0, load_off_s = 0;
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

void to_json(nlohmann::json& j, const Batteries::Capture& c);
void from_json(const nlohmann::json& j, Batteries::Capture& c);

static_assert(CheckDefinition<Batteries>);
}  // namespace hb::checks
