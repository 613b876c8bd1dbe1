// The capture as numbers in JSON. Not reported is null.
#include "checks/optional_json.hpp"
#include "checks/wireless_charging/wireless_charging.hpp"

namespace hb::checks {
using nlohmann::json;

void to_json(json& j, const WirelessCharging::Capture& c) {
  json samples = json::array();
  for (const auto& s : c.samples)
    samples.push_back(
        json::array({s.t_s, s.stage, s.wireless, s.cable, or_null(s.current_ma), or_null(s.voltage_mv),
                     or_null(s.counter_mah), or_null(s.temperature_c), or_null(s.level_pct), s.status}));
  j = json{{"placed_s", c.placed_s}, {"place_u_s", c.place_u_s}, {"samples", std::move(samples)}};
}

void from_json(const json& j, WirelessCharging::Capture& c) {
  c = {};
  c.placed_s = j.at("placed_s").get<double>();
  c.place_u_s = j.at("place_u_s").get<double>();
  for (const auto& s : j.at("samples"))
    c.samples.push_back({s.at(0).get<double>(), s.at(1).get<int>(), s.at(2).get<bool>(), s.at(3).get<bool>(),
                         maybe<double>(s.at(4)), maybe<double>(s.at(5)), maybe<double>(s.at(6)),
                         maybe<double>(s.at(7)), maybe<int>(s.at(8)), s.at(9).get<int>()});
}

}  // namespace hb::checks
