// The capture as numbers in JSON: a sample is an array in the order of the struct's members, null for what
// the phone did not report.
#include "checks/wired_port/wired_port.hpp"

#include "checks/optional_json.hpp"

namespace hb::checks {
using nlohmann::json;

void to_json(json& j, const WiredPort::Capture& c) {
  json samples = json::array(), speeds = json::array();
  for (const auto& s : c.samples)
    samples.push_back(json::array({s.t_s, s.side, static_cast<int>(s.stage), s.online, or_null(s.voltage_mv),
                                   or_null(s.current_ma), or_null(s.limit_ma)}));
  for (const auto& s : c.speeds) speeds.push_back(json::array({s.side, s.mbit_s}));
  j = json{{"level_pct", c.level_pct}, {"samples", std::move(samples)}, {"speeds", std::move(speeds)}};
}

void from_json(const json& j, WiredPort::Capture& c) {
  c = {};
  c.level_pct = j.at("level_pct").get<double>();
  for (const auto& s : j.at("samples"))
    c.samples.push_back({s.at(0).get<double>(), s.at(1).get<int>(),
                         static_cast<WiredPort::Stage>(s.at(2).get<int>()), s.at(3).get<bool>(),
                         maybe<double>(s.at(4)), maybe<double>(s.at(5)), maybe<double>(s.at(6))});
  for (const auto& s : j.at("speeds")) c.speeds.push_back({s.at(0).get<int>(), s.at(1).get<double>()});
}

}  // namespace hb::checks
