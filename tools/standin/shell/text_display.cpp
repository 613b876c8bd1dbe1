#include <fmt/format.h>

#include "tools/standin/shell/canaries.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin::text {
namespace {
const PanelSpec& lit_panel(const World& w) {
  const auto& panels = w.unit().model->panels;
  return panels.size() > 1 && committed_fold(w) == Fold::closed ? panels[1] : panels[0];
}

std::string hal_device(const CameraSpec& c) {
  return fmt::format(
      "== Camera HAL device device@3.7/internal/{} (v3.7) static information: ==\n"
      "  Resource cost: 50\n  Conflicting devices: None\n  API1 info:\n    Has a flash unit: {}\n"
      "    Facing: {}\n    Orientation: {}\n  API2 camera characteristics:\n"
      "    Dumping camera metadata array: 3 / 3 entries, 64 / 64 bytes of extra data.\n"
      "      Version: 1, Flags: 00000000\n"
      "      android.scaler.availableStreamConfigurations (d000a): int32[8]\n"
      "        [33 1280 960 0 ]\n        [35 1280 960 0 ]\n"
      "      android.sensor.info.pixelArraySize (f0003): int32[2]\n        [1280 960 ]\n",
      c.hal_id, !c.front && c.index == 0, c.front ? "Front" : "Back", c.front ? 270 : 90);
}
}  // namespace

std::string cameras(const World& w) {
  std::string devices, maps;
  int count = 0;
  for (int id = 0; id < static_cast<int>(w.unit().lenses.size()); ++id)
    for (const auto& l : w.unit().lenses) {
      if (l.spec.hal_id != id || !l.present) continue;
      devices += hal_device(l.spec);
      maps += fmt::format("    Device {} maps to \"{}\"\n", count, id);
      ++count;
    }
  return fmt::format(
             "== Service global info: ==\n\nNumber of camera devices: {0}\nNumber of normal camera devices: "
             "{0}\n"
             "Number of public camera devices visible to API1: {0}\n{1}Active Camera Clients:\n[]\n"
             "Allowed user IDs: 0\n\n== Camera service events log (most recent at top): ==\n"
             "  11-24 21:40:02 : DISCONNECT device 0 client for package {2} (PID 4821)\n"
             "  11-24 21:39:37 : CONNECT device 0 client for package {2} (PID 4821)\n\n"
             "== Camera Provider HAL internal/0 (v2.7, remote) static info: {0} devices: ==\n",
             count, maps, canary("package")) +
         devices +
         "== Vendor tags: ==\n\n  No vendor tags.\n\n== Camera error traces (0): ==\n  No camera traces "
         "collected.\n";
}

std::string wm_size(const World& w) {
  const PanelSpec& p = lit_panel(w);
  return fmt::format("Physical size: {}x{}\n", p.width_px, p.height_px);
}

std::string display(const World& w) {
  const auto& panels = w.unit().model->panels;
  const PanelSpec& lit = lit_panel(w);
  std::string out = fmt::format(
      "DISPLAY MANAGER (dumpsys display)\n  mGlobalDisplayState=ON\n  mStableDisplaySize=Point({}, {})\n\n"
      "Display Adapters: size=1\n  LocalDisplayAdapter\n\nDisplay Devices: size={}\n",
      lit.width_px, lit.height_px, panels.size());
  for (std::size_t i = 0; i < panels.size(); ++i)
    out += fmt::format(
        "  DisplayDeviceInfo{{\"Built-in Screen\": uniqueId=\"local:461940{}\", {} x {}, modeId 1, "
        "touch INTERNAL, rotation 0, type INTERNAL, state {}}}\n",
        i, panels[i].width_px, panels[i].height_px, &panels[i] == &lit ? "ON" : "OFF");
  return out + fmt::format(
                   "\nLogical Displays: size=1\n  Display 0:\n    mDisplayId=0\n\nBrightness events:\n"
                   "  brightness=112, packageName={}\n",
                   canary("app"));
}
}  // namespace hb::standin::text
