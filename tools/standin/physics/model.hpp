/// The two invented models as data. Millimetres, pixels of the touch device, mAh, ohms. Threads: constants.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace hb::standin {
struct PanelSpec {
  std::string part;  ///< "inner", "outer"
  int node = 0;      ///< /dev/input/eventN
  int width_px = 0, height_px = 0;
  double width_mm = 0, height_mm = 0;
  double rate_hz = 0;
  std::optional<double> fold_y_px;
};
struct CellSpec {
  std::string supply;  ///< folder name under /sys/class/power_supply
  double design_mah = 0;
  double r0_ohm = 0;
};
struct CameraSpec {
  std::string part;
  bool front = false;
  int index = 0;   ///< among those that face this way
  int hal_id = 0;  ///< number in the camera service's own list
  bool focuses = false;
};
/// A side key; `code` as in input-event-codes.h.
struct KeySpec {
  std::string part;  ///< "power"
  int code = 0;
};
struct ScrewSpec {
  std::string part;  ///< group
  int count = 0;
};
struct SpeakerSpec {
  std::string part;
  double resonance_hz = 0;
};
/// `levels_db`: from each of the model's speakers, in their order; of a sample played.
struct MicrophoneSpec {
  std::string part;
  std::vector<double> levels_db, distances_mm;
};
struct ModelSpec {
  std::string name;  ///< "petal"
  std::string device, product, model, display_name;
  std::vector<PanelSpec> panels;  ///< the one used when unfolded first
  std::vector<CellSpec> cells;
  std::vector<CameraSpec> cameras;
  std::vector<KeySpec> keys{{"power", 116}, {"volume up", 115}, {"volume down", 114}};
  std::vector<ScrewSpec> screws{{"bottom edge", 2}};  ///< seen from outside
  std::vector<std::string> covers{"back cover"};
  std::vector<SpeakerSpec> speakers{{"loudspeaker", 750}, {"earpiece", 600}};
  std::vector<MicrophoneSpec> microphones{{"bottom", {-8, -38}, {12, 145}}, {"top", {-24, -18}, {140, 10}}};
  bool hinged = false;
  bool esim = false;       ///< a second slot, soldered in, that holds no profile
  double coil_rail_w = 0;  ///< power into the battery rail when perfectly placed
};

/// "petal" or "plank"; nullptr for any other name.
[[nodiscard]] const ModelSpec* find_model(std::string_view name);

/// Open-circuit voltage of one cell at `soc` in 0..1: straight lines between eleven points; held outside.
[[nodiscard]] double open_circuit_v(double soc) noexcept;
}  // namespace hb::standin
