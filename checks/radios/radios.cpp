// Everything but the waiting. Pure: the same capture gives the same bits.
#include "checks/radios/radios.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/summary.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
constexpr double kLevelGain_db =
    3;  // absolute accuracy of a receiver's own level: common practice, no source

ShopText wifi_part() { return Term("Wi-Fi"); }
ShopText bluetooth_part() { return Term("Bluetooth"); }

template <class T>
json or_null(const std::optional<T>& v) {
  return v ? json(*v) : json(nullptr);
}
template <class T>
std::optional<T> maybe(const json& j) {
  if (j.is_null()) return std::nullopt;
  return j.get<T>();
}

}  // namespace

CheckInfo Radios::needs() {
  return {"radios", "Radios", "Wi-Fi and Bluetooth", {Resource::hands}, std::chrono::seconds{6}, ""};
}

std::vector<SectionSpec> Radios::sections() {
  return {{"radios",
           false,
           {{"readings", KeyType::integer, "readings to take, 5 to 100", false, 5, 100},
            {"bluetooth", KeyType::boolean, "false when the model has no Bluetooth", false}}}};
}

Result<Radios::Config> Radios::configure(const Sections& sections) {
  Config c;
  if (const Section* s = sections.one("radios")) {
    c.readings = static_cast<int>(s->integer("readings", c.readings));
    c.bluetooth = s->boolean("bluetooth", true);
  }
  return c;
}

std::vector<Term> Radios::limit_keys() {
  return {"radios.wifi_up", "radios.bluetooth_up", "radios.level_dbm", "radios.level_spread_db"};
}

Result<Measured> Radios::measure(const Capture& capture, const Config&) {
  if (capture.readings.empty())
    return Error{ErrorCode::unsupported, "this phone reports the state of no radio", "radios", ""};
  Measured out;
  std::vector<double> level;
  // A radio whose switch is off was not asked to be up: nothing is said of it.
  const auto state = [&](Term key, const ShopText& part, auto switched_on, auto up) {
    std::int64_t n = 0, n_up = 0;
    for (const auto& r : capture.readings)
      if ((r.*up).has_value() && (r.*switched_on).value_or(false)) ++n, n_up += *(r.*up) ? 1 : 0;
    if (n > 0) out.measures.push_back({key, part, 2 * n_up > n ? 1.0 : 0.0, 0, "1", n});
  };
  state("radios.wifi_up", wifi_part(), &Reading::wifi_switched_on, &Reading::wifi_up);
  state("radios.bluetooth_up", bluetooth_part(), &Reading::bluetooth_switched_on, &Reading::bluetooth_up);
  for (const auto& r : capture.readings) {
    if (!r.wifi_dbm) continue;
    if (*r.wifi_dbm < -126 || *r.wifi_dbm > 0)
      return Error{ErrorCode::bad_format, "the capture is torn: a level is out of range", "radios",
                   "Run the check again."};
    level.push_back(*r.wifi_dbm);
  }
  if (level.size() >= 5) {
    const auto n = static_cast<std::int64_t>(level.size());
    const double scatter = kernel::median_uncertainty(level);
    out.measures.push_back({"radios.level_dbm", wifi_part(), kernel::median(level),
                            std::sqrt(scatter * scatter + kLevelGain_db * kLevelGain_db / 3), "dBm", n});
    const double sd = std::max(kernel::standard_deviation(level), 1 / std::sqrt(12.0));
    out.measures.push_back({"radios.level_spread_db", wifi_part(), sd,
                            sd / std::sqrt(2 * (static_cast<double>(n) - 1)), "dB", n});
  }
  return out;
}

std::vector<Finding> Radios::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config&) {
  std::vector<Finding> out;
  for (const std::string_view key : {"radios.wifi_up", "radios.bluetooth_up"})
    for (const Verdict& v : verdicts)
      if (v.measure.key.view() == key && is_bad(v))
        out.push_back(
            {"radio_absent",
             "The radio is switched on but does not come up: either its module is damaged, or the main "
             "board was bent.",
             "Restart once; if it stays so, the radio on the main board needs repair.",
             v.measure.part,
             {v.measure}});
  if (!out.empty()) return out;
  if (const Seen wifi{verdicts, wifi_part()}; wifi.bad("radios.level_dbm"))
    out.push_back(wifi.finding(
        "antenna_flex_open",
        "The bench's network comes in far too weak: either an antenna cable or its flex is not "
        "seated, or an antenna contact is bent.",
        "Reseat the antenna cable and the antenna flex, and look at the spring contacts to the frame.",
        {"radios.level_dbm"}));
  return out;
}

void to_json(json& j, const Radios::Capture& c) {
  json all = json::array();
  for (const auto& r : c.readings)
    all.push_back(json::array({or_null(r.wifi_switched_on), or_null(r.wifi_up), or_null(r.wifi_dbm),
                               or_null(r.bluetooth_switched_on), or_null(r.bluetooth_up)}));
  j = json{{"readings", std::move(all)}};
}

void from_json(const json& j, Radios::Capture& c) {
  c = {};
  for (const auto& r : j.at("readings")) {
    Radios::Reading x;
    x.wifi_switched_on = maybe<bool>(r.at(0)), x.wifi_up = maybe<bool>(r.at(1));
    x.wifi_dbm = maybe<int>(r.at(2));
    x.bluetooth_switched_on = maybe<bool>(r.at(3)), x.bluetooth_up = maybe<bool>(r.at(4));
    c.readings.push_back(x);
  }
}

}  // namespace hb::checks
