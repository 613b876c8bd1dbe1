/// The smallest check there can be: the level that the platform shows. It is in no profile; a test adds it
/// from this folder, as a new check is added.
/// Capture   levels in %, one a reading.
/// Measures  battery_level.level_pct: mean; u from the rounding to whole per cent and the scatter.
/// Errors    acquire: what the phone gives. measure: unsupported (no level).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
#pragma once

#include "checks/check.hpp"

namespace hb::checks {

struct BatteryLevel {
  struct Config {
    int readings = 3;
  };
  struct Capture {
    std::vector<double> level_pct;
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

void to_json(nlohmann::json& j, const BatteryLevel::Capture& c);
void from_json(const nlohmann::json& j, BatteryLevel::Capture& c);

static_assert(CheckDefinition<BatteryLevel>);
}  // namespace hb::checks
