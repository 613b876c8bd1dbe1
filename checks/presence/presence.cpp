// Everything but the waiting. Pure: the same capture gives the same bits.
#include "checks/presence/presence.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/summary.hpp"
#include "checks/optional_json.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
constexpr std::string_view kListed = "presence.listed", kOpen = "presence.open_value",
                           kCovered = "presence.covered_share", kLights = "presence.camera_lights",
                           kReaders = "presence.fingerprint_readers";
constexpr double kPrintStep = 0.01;  // two decimals: AOSP RecentEventLogger
constexpr std::size_t kFewest = 3;

double scatter(const std::vector<double>& v) {
  const double u = kernel::median_uncertainty(v), step = kPrintStep / std::sqrt(12.0);
  return std::sqrt(u * u + step * step);
}

}  // namespace

CheckInfo Presence::needs() {
  return {"presence",
          "Small sensors",
          "Light, proximity and other small sensors",
          {Resource::hands, Resource::screen, Resource::battery_load},
          std::chrono::seconds{10},
          ""};
}

std::vector<SectionSpec> Presence::sections() {
  return {{"presence",
           false,
           {{"camera_light", KeyType::boolean, "true when a camera of the model has a light", false},
            {"fingerprint", KeyType::boolean, "true when the model has a fingerprint reader", false},
            {"listen_s", KeyType::number, "seconds to listen, 1 to 20", false, 1, 20}}},
          {"sensor",
           true,
           {{"type", KeyType::integer, "the platform's sensor type: 5 light, 8 proximity", true, 1, 100000},
            {"covered", KeyType::boolean, "true when it is to be covered by a finger, too", false}}}};
}

Result<Presence::Config> Presence::configure(const Sections& sections) {
  Config c;
  for (const Section* s : sections.named("sensor"))
    c.sensors.push_back({s->name, static_cast<int>(s->integer("type")), s->boolean("covered", false)});
  if (c.sensors.empty())
    return Error{ErrorCode::unsupported, "the profile lists no small sensor", "sensor",
                 "Add a [[sensor]] for each."};
  if (const Section* s = sections.one("presence")) {
    c.camera_light = s->boolean("camera_light", false);
    c.fingerprint = s->boolean("fingerprint", false);
    c.listen_s = s->number("listen_s", c.listen_s);
  }
  return c;
}

std::vector<Term> Presence::limit_keys() {
  return {"presence.listed", "presence.open_value", "presence.covered_share", "presence.camera_lights",
          "presence.fingerprint_readers"};
}

Result<Measured> Presence::measure(const Capture& capture, const Config& config) {
  if (capture.sensors.size() != config.sensors.size())
    return Error{ErrorCode::bad_format, "the capture is not of the profile's sensors", "presence",
                 "Run the check again."};
  Measured out;
  for (std::size_t i = 0; i < config.sensors.size(); ++i) {
    const Sensor& s = config.sensors[i];
    const Heard& h = capture.sensors[i];
    const auto wild = [](double v) { return !(std::abs(v) < 1e7); };
    if (h.type != s.type || std::any_of(h.open.begin(), h.open.end(), wild) ||
        std::any_of(h.covered.begin(), h.covered.end(), wild))
      return Error{ErrorCode::bad_format, "the capture is torn: a value is out of range", "presence",
                   "Run the check again."};
    out.measures.push_back({"presence.listed", s.name, h.listed ? 1.0 : 0.0, 0, "1", 1});
    if (!s.covered || h.open.size() < kFewest) continue;
    const double open = kernel::median(h.open), u_open = scatter(h.open);
    out.measures.push_back(
        {"presence.open_value", s.name, open, u_open, "lx", static_cast<std::int64_t>(h.open.size())});
    if (h.covered.size() < kFewest || !(open > 10 * u_open)) continue;
    const double dark = kernel::median(h.covered);
    out.measures.push_back({"presence.covered_share", s.name, dark / open,
                            std::hypot(scatter(h.covered), dark / open * u_open) / open, "1",
                            static_cast<std::int64_t>(h.covered.size())});
  }
  const auto count = [&out](Term key, bool wanted, std::optional<int> n) {
    if (wanted && n) out.measures.push_back({key, {}, static_cast<double>(*n), 0, "1", 1});
  };
  count("presence.camera_lights", config.camera_light, capture.camera_lights);
  count("presence.fingerprint_readers", config.fingerprint, capture.fingerprint_readers);
  return out;
}

std::vector<Finding> Presence::diagnose(std::span<const Verdict> verdicts, const Capture&,
                                        const Config& config) {
  std::vector<Finding> out;
  for (const Sensor& s : config.sensors) {
    const Seen seen{verdicts, s.name};
    if (seen.bad(kListed))
      out.push_back(seen.finding(
          "sensor_not_listed",
          "The phone does not list this sensor: either its flex is not seated, or the sensor was left out.",
          "Reseat the flex of the earpiece and sensors at the top of the phone.", {kListed}));
    else if (seen.bad(kOpen) || seen.bad(kCovered))
      out.push_back(seen.finding(
          "light_sensor_blocked",
          "The light sensor hardly sees the room, or not the finger over it: either a film or the gasket "
          "covers it, or it sits off its window.",
          "Take off the protective film; then look at the seat of the sensor and its gasket under the glass.",
          {kOpen, kCovered}));
  }
  if (const Seen all{verdicts}; all.bad(kLights))
    out.push_back(all.finding("camera_light_not_listed", "No camera of the phone lists its light.",
                              "Reseat the flex of the camera light.", {kLights}));
  if (const Seen all{verdicts}; all.bad(kReaders))
    out.push_back(all.finding(
        "fingerprint_reader_not_listed",
        "The phone lists no fingerprint reader: either its flex is not seated, or the system has not started "
        "the reader.",
        "Restart once; if it stays so, reseat the flex of the fingerprint reader (at the side key, the back "
        "cover or under the display).",
        {kReaders}));
  return out;
}

void to_json(json& j, const Presence::Capture& c) {
  json all = json::array();
  for (const auto& s : c.sensors)
    all.push_back(json{{"type", s.type}, {"listed", s.listed}, {"open", s.open}, {"covered", s.covered}});
  j = json{{"sensors", std::move(all)},
           {"camera_lights", or_null(c.camera_lights)},
           {"fingerprint_readers", or_null(c.fingerprint_readers)}};
}

void from_json(const json& j, Presence::Capture& c) {
  c = {};
  for (const auto& s : j.at("sensors"))
    c.sensors.push_back({s.at("type").get<int>(), s.at("listed").get<bool>(),
                         s.at("open").get<std::vector<double>>(),
                         s.at("covered").get<std::vector<double>>()});
  c.camera_lights = maybe<int>(j.at("camera_lights"));
  c.fingerprint_readers = maybe<int>(j.at("fingerprint_readers"));
}

}  // namespace hb::checks
