#include "checks/battery_level/battery_level.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/summary.hpp"
#include "checks/seen.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {

CheckInfo BatteryLevel::needs() {
  return {"battery_level", "Battery level", "Battery level", {}, std::chrono::seconds{3}, ""};
}

std::vector<SectionSpec> BatteryLevel::sections() {
  return {
      {"battery_level", false, {{"readings", KeyType::integer, "readings to take, 1 to 10", false, 1, 10}}}};
}

Result<BatteryLevel::Config> BatteryLevel::configure(const Sections& sections) {
  Config c;
  if (const Section* s = sections.one("battery_level"))
    c.readings = static_cast<int>(s->integer("readings", c.readings));
  return c;
}

std::vector<Term> BatteryLevel::limit_keys() { return {"battery_level.level_pct"}; }

net::awaitable<Result<BatteryLevel::Capture>> BatteryLevel::acquire(Context& context, Config config) const {
  Capture capture;
  for (int i = 0; i < config.readings; ++i) {
    context.progress.step(static_cast<double>(i) / config.readings, "reading the level");
    const auto battery = co_await context.phone.battery();
    if (!battery) co_return battery.error();
    if (battery->level_pct) capture.level_pct.push_back(*battery->level_pct);
    const auto waited = co_await context.clock.wait(net::milliseconds(500));
    if (!waited) co_return waited.error();
  }
  co_return capture;
}

Result<Measured> BatteryLevel::measure(const Capture& capture, const Config&) {
  const auto& levels = capture.level_pct;
  if (levels.empty()) return Error{ErrorCode::unsupported, "the phone shows no level", "battery_level", ""};
  double sum = 0;
  for (const double l : levels) sum += l;
  const auto n = static_cast<double>(levels.size());
  const double scatter = levels.size() > 1 ? kernel::standard_deviation(levels) / std::sqrt(n) : 0;
  Measured out;
  out.measures.push_back({"battery_level.level_pct",
                          {},
                          sum / n,
                          std::hypot(scatter, 1 / std::sqrt(12.0)),
                          "%",
                          static_cast<std::int64_t>(levels.size())});
  return out;
}

std::vector<Finding> BatteryLevel::diagnose(std::span<const Verdict> verdicts, const Capture&,
                                            const Config&) {
  std::vector<Finding> out;
  if (const Seen seen{verdicts, {}}; seen.bad("battery_level.level_pct"))
    out.push_back(seen.finding("battery_low", "The battery is nearly empty.", "Charge it first.",
                               {"battery_level.level_pct"}));
  return out;
}

void to_json(nlohmann::json& j, const BatteryLevel::Capture& c) { j = {{"level_pct", c.level_pct}}; }
void from_json(const nlohmann::json& j, BatteryLevel::Capture& c) { j.at("level_pct").get_to(c.level_pct); }

}  // namespace hb::checks
