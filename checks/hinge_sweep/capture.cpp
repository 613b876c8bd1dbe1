// The capture as numbers in JSON: arrays, in the order of the struct's members.
#include <nlohmann/json.hpp>

#include "checks/hinge_sweep/hinge_sweep.hpp"

namespace hb::checks {
using nlohmann::json;

void to_json(json& j, const HingeSweep::Capture& c) {
  json events = json::array(), polls = json::array(), states = json::array(), stops = json::array();
  for (const auto& e : c.events) events.push_back(json::array({e.t_s, e.deg}));
  for (const auto& p : c.polls) polls.push_back(json::array({p.oldest_s, p.newest_s}));
  for (const auto& s : c.states) states.push_back(json::array({s.after_s, s.before_s, s.state}));
  for (const auto& s : c.stops)
    stops.push_back(json::array({s.at_deg, s.from_deg, s.window.begin_s, s.window.end_s}));
  j = json{{"events", std::move(events)},
           {"polls", std::move(polls)},
           {"states", std::move(states)},
           {"cycles", json::array({c.cycles.begin_s, c.cycles.end_s})},
           {"stops", std::move(stops)}};
}

void from_json(const json& j, HingeSweep::Capture& c) {
  c = {};
  for (const auto& e : j.at("events")) c.events.push_back({e.at(0).get<double>(), e.at(1).get<double>()});
  for (const auto& p : j.at("polls")) c.polls.push_back({p.at(0).get<double>(), p.at(1).get<double>()});
  for (const auto& s : j.at("states"))
    c.states.push_back({s.at(0).get<double>(), s.at(1).get<double>(), s.at(2).get<int>()});
  c.cycles = {j.at("cycles").at(0).get<double>(), j.at("cycles").at(1).get<double>()};
  for (const auto& s : j.at("stops"))
    c.stops.push_back(
        {s.at(0).get<double>(), s.at(1).get<double>(), {s.at(2).get<double>(), s.at(3).get<double>()}});
}

}  // namespace hb::checks
