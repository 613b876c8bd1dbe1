// The capture as numbers in JSON: an event is an array, in the order of the struct's members.
#include <nlohmann/json.hpp>

#include "checks/keys/keys.hpp"

namespace hb::checks {
using nlohmann::json;

void to_json(json& j, const Keys::Capture& c) {
  json events = json::array();
  for (const auto& e : c.events)
    events.push_back(json::array({static_cast<int>(e.phase), e.t_s, e.lid, e.code, e.down}));
  j = json{{"events", std::move(events)},
           {"asked", c.asked},
           {"down_at_rest", c.down_at_rest},
           {"down_after", c.down_after},
           {"folded", c.folded}};
}

void from_json(const json& j, Keys::Capture& c) {
  c = {};
  for (const auto& e : j.at("events"))
    c.events.push_back({static_cast<Keys::Phase>(e.at(0).get<int>()), e.at(1).get<double>(),
                        e.at(2).get<bool>(), e.at(3).get<int>(), e.at(4).get<bool>()});
  c.asked = j.at("asked").get<std::vector<int>>();
  c.down_at_rest = j.at("down_at_rest").get<std::vector<int>>();
  c.down_after = j.at("down_after").get<std::vector<int>>();
  c.folded = j.at("folded").get<bool>();
}

}  // namespace hb::checks
