#include "light.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "checks/kernel/srgb.hpp"
#include "checks/kernel/summary.hpp"

namespace hb::checks::camera {
namespace {
constexpr double kFloor_u = 0.01;
constexpr double kBright = 0.10,
                 kReddest = 2;   // green light, and red over green, that a finger does not let by
constexpr double kNoRoom = 0.7;  // a picture so bright without the light has no room to show it

std::vector<double> reds(const std::vector<LightLevel>& levels) {
  std::vector<double> out;
  for (const auto& l : levels) out.push_back(l.red);
  return out;
}
}  // namespace

LightLevel read_light(const Frame& f) {
  LightLevel out;
  const auto n =
      static_cast<std::size_t>(std::max(f.width, 0)) * static_cast<std::size_t>(std::max(f.height, 0));
  if (n == 0 || f.rgb.size() != 3 * n) return out;
  const auto& linear = kernel::srgb_table();
  for (std::size_t i = 0; i < n; ++i) {
    const std::uint8_t* c = f.rgb.data() + 3 * i;
    out.red += linear[c[0]], out.green += linear[c[1]], out.blue += linear[c[2]];
  }
  const double all = static_cast<double>(n);
  out.red /= all, out.green /= all, out.blue /= all;
  return out;
}

bool well_formed(const LightCapture& capture) {
  const auto level = [](double v) { return v >= 0 && v <= 1; };
  for (const auto* levels : {&capture.before, &capture.lit, &capture.after})
    for (const auto& l : *levels)
      if (!level(l.red) || !level(l.green) || !level(l.blue)) return false;
  return true;
}

bool covered(const LightCapture& capture) {
  for (const auto* levels : {&capture.before, &capture.after})
    for (const auto& l : *levels)
      if (l.green > kBright && l.red < kReddest * l.green) return false;
  return true;
}

std::optional<LightGain> light_gain(const LightCapture& capture) {
  const auto before = reds(capture.before), after = reds(capture.after);
  auto lit = reds(capture.lit);
  if (before.empty() || after.empty() || lit.size() < 2) return std::nullopt;
  std::sort(lit.rbegin(), lit.rend());
  const bool opening = kernel::mean(after) > kernel::mean(before);
  const auto& unlit = opening ? after : before;
  if (kernel::mean(unlit) > kNoRoom) return std::nullopt;
  LightGain g;
  g.value = 0.5 * (lit[0] + lit[1]) - kernel::mean(unlit);
  g.u = std::hypot(kernel::mean_uncertainty(unlit), 0.5 * (lit[0] - lit[1]), kFloor_u);
  g.frames = static_cast<int>(before.size() + lit.size() + after.size());
  return g;
}

namespace {
nlohmann::json json_of(const std::vector<LightLevel>& levels) {
  auto out = nlohmann::json::array();
  for (const auto& l : levels) {
    auto one = nlohmann::json::array();
    for (const double v : {l.red, l.green, l.blue}) one.push_back(v);
    out.push_back(std::move(one));
  }
  return out;
}
std::vector<LightLevel> levels_of(const nlohmann::json& j) {
  std::vector<LightLevel> out;
  for (const auto& one : j) {
    const auto v = one.get<std::array<double, 3>>();
    out.push_back({v[0], v[1], v[2]});
  }
  return out;
}
}  // namespace

void to_json(nlohmann::json& j, const LightCapture& c) {
  j = {{"offered", c.offered},
       {"before", json_of(c.before)},
       {"lit", json_of(c.lit)},
       {"after", json_of(c.after)}};
}
void from_json(const nlohmann::json& j, LightCapture& c) {
  j.at("offered").get_to(c.offered);
  c.before = levels_of(j.at("before")), c.lit = levels_of(j.at("lit")), c.after = levels_of(j.at("after"));
}
}  // namespace hb::checks::camera
