// The capture as numbers in JSON. Not reported is null.
#include "checks/batteries/batteries.hpp"

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

json trace(const Batteries::Trace& t) {
  json samples = json::array();
  for (const auto& s : t.samples)
    samples.push_back(json::array({s.t_s, s.phase, out(s.voltage_mv), out(s.current_ma), out(s.temperature_c),
                                   out(s.counter_mah), out(s.soc_pct), s.status}));
  return json{{"readable", t.readable},
              {"present", out(t.present)},
              {"full_mah", out(t.full_mah)},
              {"design_mah", out(t.design_mah)},
              {"samples", std::move(samples)}};
}

Batteries::Trace trace(const json& j) {
  Batteries::Trace t;
  t.readable = j.at("readable").get<bool>();
  t.present = in<bool>(j.at("present"));
  t.full_mah = in<double>(j.at("full_mah"));
  t.design_mah = in<double>(j.at("design_mah"));
  for (const auto& s : j.at("samples"))
    t.samples.push_back({s.at(0).get<double>(), s.at(1).get<int>(), in<double>(s.at(2)), in<double>(s.at(3)),
                         in<double>(s.at(4)), in<double>(s.at(5)), in<int>(s.at(6)), s.at(7).get<int>()});
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
