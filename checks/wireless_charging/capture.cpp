// The capture as numbers in JSON. Not reported is null.
#include "checks/wireless_charging/wireless_charging.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
template <class T>
json out(const std::optional<T>& v) {
  return v ? json(*v) : json(nullptr);
}
template <class T>
std::optional<T> in(const json& j) {
  if (j.is_null()) return std::nullopt;
  return j.get<T>();
}
}  // namespace

void to_json(json& j, const WirelessCharging::Capture& c) {
  json samples = json::array();
  for (const auto& s : c.samples)
    samples.push_back(json::array({s.t_s, s.stage, s.wireless, s.cable, out(s.current_ma), out(s.voltage_mv),
                                   out(s.counter_mah), out(s.temperature_c), out(s.level_pct), s.status}));
  j = json{{"placed_s", c.placed_s}, {"place_u_s", c.place_u_s}, {"samples", std::move(samples)}};
}

void from_json(const json& j, WirelessCharging::Capture& c) {
  c = {};
  c.placed_s = j.at("placed_s").get<double>();
  c.place_u_s = j.at("place_u_s").get<double>();
  for (const auto& s : j.at("samples"))
    c.samples.push_back({s.at(0).get<double>(), s.at(1).get<int>(), s.at(2).get<bool>(), s.at(3).get<bool>(),
                         in<double>(s.at(4)), in<double>(s.at(5)), in<double>(s.at(6)), in<double>(s.at(7)),
                         in<int>(s.at(8)), s.at(9).get<int>()});
}

}  // namespace hb::checks
