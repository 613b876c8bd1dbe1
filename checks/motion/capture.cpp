// The capture as numbers in JSON: a sample is [t, x, y, z].
#include <nlohmann/json.hpp>

#include "checks/motion/motion.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
json samples(const std::vector<Motion::Sample>& all) {
  json out = json::array();
  for (const auto& s : all) out.push_back(json::array({s.t_s, s.value[0], s.value[1], s.value[2]}));
  return out;
}
std::vector<Motion::Sample> samples(const json& j) {
  std::vector<Motion::Sample> out;
  for (const auto& s : j)
    out.push_back(
        {s.at(0).get<double>(), {s.at(1).get<double>(), s.at(2).get<double>(), s.at(3).get<double>()}});
  return out;
}
}  // namespace

void to_json(json& j, const Motion::Capture& c) {
  json faces = json::array();
  for (const auto& f : c.faces)
    faces.push_back(json{
        {"face", f.face}, {"accelerometer", samples(f.accelerometer)}, {"gyroscope", samples(f.gyroscope)}});
  j = json{{"faces", std::move(faces)}};
}

void from_json(const json& j, Motion::Capture& c) {
  c = {};
  for (const auto& f : j.at("faces"))
    c.faces.push_back({f.at("face").get<int>(), samples(f.at("accelerometer")), samples(f.at("gyroscope"))});
}

}  // namespace hb::checks
