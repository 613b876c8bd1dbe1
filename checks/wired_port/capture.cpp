// The capture as numbers in JSON: a sample is an array in the order of the struct's members, null for what
// the phone did not report.
#include "checks/wired_port/wired_port.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
json number(const std::optional<double>& v) { return v ? json(*v) : json(nullptr); }
std::optional<double> number(const json& j) {
  if (j.is_null()) return std::nullopt;
  return j.get<double>();
}
}  // namespace

void to_json(json& j, const WiredPort::Capture& c) {
  json samples = json::array(), speeds = json::array();
  for (const auto& s : c.samples)
    samples.push_back(json::array({s.t_s, s.side, static_cast<int>(s.stage), s.online, number(s.voltage_mv),
                                   number(s.current_ma), number(s.limit_ma)}));
  for (const auto& s : c.speeds) speeds.push_back(json::array({s.side, s.mbit_s}));
  j = json{{"level_pct", c.level_pct}, {"samples", std::move(samples)}, {"speeds", std::move(speeds)}};
}

void from_json(const json& j, WiredPort::Capture& c) {
  c = {};
  c.level_pct = j.at("level_pct").get<double>();
  for (const auto& s : j.at("samples"))
    c.samples.push_back({s.at(0).get<double>(), s.at(1).get<int>(),
                         static_cast<WiredPort::Stage>(s.at(2).get<int>()), s.at(3).get<bool>(),
                         number(s.at(4)), number(s.at(5)), number(s.at(6))});
  for (const auto& s : j.at("speeds")) c.speeds.push_back({s.at(0).get<int>(), s.at(1).get<double>()});
}

}  // namespace hb::checks
