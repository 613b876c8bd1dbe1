#include "checks/vibration/vibration.hpp"

#include <algorithm>

#include "checks/optional_json.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
json list(const std::vector<Vibration::Sample>& all) {
  json out = json::array();
  for (const auto& s : all) out.push_back(json::array({s.t_s, s.value[0], s.value[1], s.value[2]}));
  return out;
}
std::vector<Vibration::Sample> list(const json& j) {
  std::vector<Vibration::Sample> out;
  for (const auto& s : j)
    out.push_back(
        {s.at(0).get<double>(), {s.at(1).get<double>(), s.at(2).get<double>(), s.at(3).get<double>()}});
  return out;
}
}  // namespace

CheckInfo Vibration::needs() {
  return {"vibration",
          "Vibration motor",
          "Vibration",
          {Resource::hands, Resource::battery_load},
          std::chrono::seconds{10},
          ""};
}

std::vector<SectionSpec> Vibration::sections() {
  return {{"vibration",
           false,
           {{"motor_hz", KeyType::number, "frequency of the model's motor, 40 to 400 Hz", true, 40, 400},
            {"bursts", KeyType::integer, "times to start it, 2 to 10", false, 2, 10}}}};
}

Result<Vibration::Config> Vibration::configure(const Sections& sections) {
  const Section* s = sections.one("vibration");
  if (s == nullptr)
    return Error{ErrorCode::unsupported, "the profile does not describe the vibration motor", "vibration",
                 "Add a [vibration] table."};
  Config c;
  c.motor_hz = s->number("motor_hz");
  c.bursts = static_cast<int>(s->integer("bursts", c.bursts));
  return c;
}

std::vector<Term> Vibration::limit_keys() {
  return {"vibration.silent_bursts", "vibration.bursts_seen", "vibration.shake_ms2", "vibration.line_share",
          "vibration.observed_felt"};
}

std::vector<Finding> Vibration::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config&) {
  if (std::none_of(verdicts.begin(), verdicts.end(), is_bad)) return {};
  Finding f{
      "motor_silent",
      "The vibration motor was started and neither the phone's own motion sensor nor the technician felt "
      "it each time: either its contacts or flex are not seated, or the motor is dead.",
      "Look at the spring contacts or the flex of the vibration motor.",
      {},
      {}};
  for (const Verdict& v : verdicts) f.evidence.push_back(v.measure);
  return {std::move(f)};
}

void to_json(json& j, const Vibration::Capture& c) {
  json bursts = json::array();
  for (const auto& b : c.bursts) bursts.push_back(list(b));
  j = json{{"rest", list(c.rest)}, {"bursts", std::move(bursts)}, {"felt", or_null(c.felt)}};
}

void from_json(const json& j, Vibration::Capture& c) {
  c = {};
  c.rest = list(j.at("rest"));
  for (const auto& b : j.at("bursts")) c.bursts.push_back(list(b));
  c.felt = maybe<bool>(j.at("felt"));
}

}  // namespace hb::checks
