#include "tools/standin/physics/model.hpp"

#include <algorithm>
#include <array>

namespace hb::standin {
namespace {
ModelSpec petal() {
  ModelSpec m;
  m.name = "petal";
  m.device = "petal", m.product = "petal_row", m.model = "VM-P2", m.display_name = "Velmora Petal";
  m.panels = {{"inner", 3, 1080, 2640, 70.0, 171.1, 240, 1320.0},
              {"outer", 4, 720, 748, 60.0, 62.3, 120, {}}};
  m.cells = {{"battery-main", 2340, 0.095}, {"battery-sub", 1390, 0.140}};
  m.cameras = {{"wide", false, 0, 0, true}, {"ultra", false, 1, 2}, {"selfie", true, 0, 1}};
  m.screws = {{"bottom edge", 2}, {"hinge cap", 4}};
  m.covers = {"back cover", "front bezel"};
  m.hinged = true;
  m.esim = true;
  m.coil_rail_w = 7.8;
  return m;
}
ModelSpec plank() {
  ModelSpec m;
  m.name = "plank";
  m.device = "plank", m.product = "plank_row", m.model = "VM-S1", m.display_name = "Velmora Plank";
  m.panels = {{"inner", 2, 1080, 2340, 68.0, 147.3, 180, {}}};
  m.cells = {{"battery", 4800, 0.060}};
  m.cameras = {{"main", false, 0, 0, true}, {"front", true, 0, 1}};
  m.coil_rail_w = 7.05;
  return m;
}
}  // namespace

const ModelSpec* find_model(std::string_view name) {
  static const std::array<ModelSpec, 2> models{petal(), plank()};
  const auto it = std::find_if(models.begin(), models.end(), [&](const auto& m) { return m.name == name; });
  return it == models.end() ? nullptr : &*it;
}

double open_circuit_v(double soc) noexcept {
  static constexpr std::array<double, 11> volts{3.30, 3.62, 3.69, 3.74, 3.78, 3.83,
                                                3.90, 3.98, 4.07, 4.18, 4.35};
  const double x = std::clamp(soc, 0.0, 1.0) * 10;
  const auto i = std::min<std::size_t>(static_cast<std::size_t>(x), 9);
  return volts[i] + (volts[i + 1] - volts[i]) * (x - static_cast<double>(i));
}
}  // namespace hb::standin
