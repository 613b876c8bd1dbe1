// The capture as numbers in JSON. Not reported is null.
#include "checks/batteries/batteries.hpp"
#include "checks/optional_json.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
json trace(const Batteries::Trace& t) {
  json samples = json::array();
  for (const auto& s : t.samples)
    samples.push_back(
        json::array({s.t_s, s.phase, or_null(s.voltage_mv), or_null(s.current_ma), or_null(s.temperature_c),
                     or_null(s.counter_mah), or_null(s.soc_pct), s.status}));
  return json{{"readable", t.readable},
              {"present", or_null(t.present)},
              {"full_mah", or_null(t.full_mah)},
              {"design_mah", or_null(t.design_mah)},
              {"samples", std::move(samples)}};
}

Batteries::Trace trace(const json& j) {
  Batteries::Trace t;
  t.readable = j.at("readable").get<bool>();
  t.present = maybe<bool>(j.at("present"));
  t.full_mah = maybe<double>(j.at("full_mah"));
  t.design_mah = maybe<double>(j.at("design_mah"));
  for (const auto& s : j.at("samples"))
    t.samples.push_back({s.at(0).get<double>(), s.at(1).get<int>(), maybe<double>(s.at(2)),
                         maybe<double>(s.at(3)), maybe<double>(s.at(4)), maybe<double>(s.at(5)),
                         maybe<int>(s.at(6)), s.at(7).get<int>()});
  return t;
}
}  // namespace

void to_json(json& j, const Batteries::Capture& c) {
  json cells = json::array();
  for (const auto& t : c.cells) cells.push_back(trace(t));
  j = json{{"cells", std::move(cells)},
           {"combined", trace(c.combined)},
           {"load_on_s", c.load_on_s},
           {"load_off_s", c.load_off_s}};
}

void from_json(const json& j, Batteries::Capture& c) {
  c = {};
  for (const auto& t : j.at("cells")) c.cells.push_back(trace(t));
  c.combined = trace(j.at("combined"));
  c.load_on_s = j.at("load_on_s").get<double>();
  c.load_off_s = j.at("load_off_s").get<double>();
}

}  // namespace hb::checks
