/// The faults and conditions that a stand-in can be given, by name and degree.
/// A fault should be found by one check; a condition makes a check say "not tested".
/// Threads: value types and constants.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::standin {
enum class Fault {
  fold_flex_pinched,
  digitizer_row_open,
  digitizer_column_open,
  panel_cracked,
  ghost_touch,
  hinge_magnet_shifted,
  hinge_flex_loose,
  hinge_not_closing,
  hinge_sensor_play,
  second_pack_unplugged,
  battery_connector_resistive,
  pack_aged,
  pack_wrong,
  cell_shorts,
  cell_collapses,
  coil_flex_open,
  coil_flex_intermittent,
  coil_misplaced,
  focus_motor_stuck,
  torch_flex_open,
  lens_film_left_on,
  camera_tilted,
  camera_flex_unseated,
  camera_soft,
  camera_stuck_pixels,
  key_flex_open,
  key_bounce,
  key_stuck,
  accel_offset,
  accel_axis_dead,
  gyro_bias,
  port_one_side_dead,
  port_resistive,
  port_intermittent,
  antenna_flex_open,
  mobile_antenna_open,
  sim_reader_unseated,
  radio_absent,
  nfc_absent,
  screws_missing,
  cover_gap,
  light_sensor_blocked,
  proximity_absent,
  fingerprint_flex_open,
  motor_open,
  speaker_dead,
  speaker_mesh_blocked,
  speaker_rub,
  speaker_torn,
  earpiece_dead,
  microphone_dead,
  microphone_mesh_blocked,
  panel_line_open,
  panel_stuck_pixels,
  panel_dark_pixels,
  panel_tint,
  panel_fold_lifted,
  panel_black_blob,
  battery_full,
  phone_hot,
  sensor_silent,
  battery_frozen,
  fold_forced,
  sysfs_denied,
  sim_left_out,
  chart_held_badly
};
inline constexpr std::size_t kFaults = 66;

struct FaultInfo {
  Fault fault;
  std::string_view name;
  bool petal, plank;
  std::string_view check;    ///< the check that should notice
  std::string_view finding;  ///< id of the finding expected; empty for a condition
  std::string_view meaning;
  [[nodiscard]] bool condition() const noexcept { return finding.empty(); }
  [[nodiscard]] bool applies_to(std::string_view model) const noexcept {
    return model == "petal" ? petal : plank;
  }
};
[[nodiscard]] const std::array<FaultInfo, kFaults>& fault_list() noexcept;

/// Degrees of all faults; 0 = absent.
class Faults {
 public:
  /// Reads "NAME" (degree 1) or "NAME:DEGREE" with 0 <= DEGREE <= 1, the last word on a name wins.
  /// invalid_argument: unknown name (the nearest is named), a model that cannot have it, a bad degree.
  [[nodiscard]] static Result<Faults> parse(const std::vector<std::string>& words, std::string_view model);
  [[nodiscard]] double degree(Fault f) const noexcept { return degree_[static_cast<std::size_t>(f)]; }
  [[nodiscard]] bool has(Fault f) const noexcept { return degree(f) > 0; }

 private:
  std::array<double, kFaults> degree_{};
};
}  // namespace hb::standin
