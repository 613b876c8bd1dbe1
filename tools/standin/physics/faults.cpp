#include "tools/standin/physics/faults.hpp"

#include <fmt/core.h>

#include "harness/base/text.hpp"

namespace hb::standin {

const std::array<FaultInfo, kFaults>& fault_list() noexcept {
  using F = Fault;
  static constexpr std::array<FaultInfo, kFaults> list{{
      {F::fold_flex_pinched, "fold-flex-pinched", true, false, "touch_grid", "fold_flex_pinched",
       "no touch in a band of 8 mm along the fold"},
      {F::digitizer_row_open, "digitizer-row-open", true, true, "touch_grid", "row_line_open",
       "one row line of the digitizer is open over the full width"},
      {F::digitizer_column_open, "digitizer-column-open", true, true, "touch_grid", "column_line_open",
       "one column line of the digitizer is open over the full height"},
      {F::panel_cracked, "panel-cracked", true, true, "touch_grid", "panel_damaged",
       "a blob of 15 mm without touch"},
      {F::ghost_touch, "ghost-touch", true, true, "touch_grid", "ghost_contacts",
       "contacts come and go while nobody touches the panel"},
      {F::hinge_magnet_shifted, "hinge-magnet-shifted", true, false, "hinge_sweep",
       "sensor_or_magnet_seated_wrong", "the hinge angle reads 9 degrees too much everywhere"},
      {F::hinge_flex_loose, "hinge-flex-loose", true, false, "hinge_sweep", "hinge_flex_loose",
       "the hinge sensor falls silent between 85 and 105 degrees"},
      {F::hinge_not_closing, "hinge-not-closing", true, false, "hinge_sweep", "hinge_not_closing",
       "the hinge stops at 14 degrees on closing"},
      {F::hinge_sensor_play, "hinge-sensor-play", true, false, "hinge_sweep", "hinge_sensor_play",
       "the hinge sensor has 7 degrees of play between opening and closing"},
      {F::second_pack_unplugged, "second-pack-unplugged", true, false, "batteries", "cell_not_connected",
       "the second battery is not plugged in (any degree)"},
      {F::battery_connector_resistive, "battery-connector-resistive", true, true, "batteries",
       "connector_resistive", "0.20 ohm more in the connector of the first battery"},
      {F::pack_aged, "pack-aged", true, true, "batteries", "cell_aged",
       "the first battery holds 70 % of its design charge, with a higher resistance"},
      {F::pack_wrong, "pack-wrong", true, true, "batteries", "cell_wrong",
       "the first battery is another type with 60 % of the right design capacity"},
      {F::cell_shorts, "cell-shorts", true, true, "batteries", "safety_stop",
       "a soft short inside the first cell heats it by more than a degree a second while the phone works "
       "hard"},
      {F::cell_collapses, "cell-collapses", false, true, "batteries", "safety_stop",
       "1.5 ohm more in the only cell: its voltage falls below 3 V under load"},
      {F::coil_flex_open, "coil-flex-open", true, true, "wireless_charging", "coil_flex_open",
       "the phone never couples with the charging pad (any degree)"},
      {F::coil_flex_intermittent, "coil-flex-intermittent", true, true, "wireless_charging",
       "coil_flex_intermittent", "charging drops out every few seconds while the phone lies still"},
      {F::coil_misplaced, "coil-misplaced", true, true, "wireless_charging", "coil_misplaced",
       "couples late, with 35 % of the current, and is lost on a shift of 4 mm"},
      {F::focus_motor_stuck, "focus-motor-stuck", true, true, "cameras", "focus_stuck",
       "the lens of the first back camera does not follow its focus motor (degree: share of the way that it "
       "does not go)"},
      {F::torch_flex_open, "torch-flex-open", true, true, "cameras", "camera_light_dark",
       "the light of the first back camera is listed and does not shine (any degree)"},
      {F::lens_film_left_on, "lens-film-left-on", true, true, "cameras", "lens_film_left_on",
       "protective film on the first back camera: veiling glare and mild blur"},
      {F::camera_tilted, "camera-tilted", true, true, "cameras", "module_tilted",
       "the first back camera is tilted: blurred towards one side"},
      {F::camera_flex_unseated, "camera-flex-unseated", true, true, "cameras", "camera_not_seated",
       "the first back camera does not answer (any degree)"},
      {F::camera_soft, "camera-soft", true, true, "cameras", "module_out_of_focus",
       "the first back camera is blurred everywhere"},
      {F::camera_stuck_pixels, "camera-stuck-pixels", true, true, "cameras", "stuck_pixels",
       "sixteen pixels of the first back camera's sensor always give full light, or none"},
      {F::key_flex_open, "key-flex-open", true, true, "keys", "key_flex_open",
       "the flex of the volume keys is open: no press of either is seen (any degree)"},
      {F::key_bounce, "key-bounce", true, true, "keys", "key_worn_or_dirty",
       "the contact of the power key chatters when it is pressed (degree: share of the presses)"},
      {F::key_stuck, "key-stuck", true, true, "keys", "key_stuck",
       "the volume down key is held down all the time (any degree)"},
      {F::accel_offset, "accel-offset", true, true, "motion", "accelerometer_offset",
       "the accelerometer reads 2 m/s2 too much along z"},
      {F::accel_axis_dead, "accel-axis-dead", true, true, "motion", "axis_dead",
       "the accelerometer's y axis always reads about zero (any degree)"},
      {F::gyro_bias, "gyro-bias", true, true, "motion", "gyro_biased",
       "the gyroscope reads 6 degrees a second about y while the phone lies still"},
      {F::port_one_side_dead, "port-one-side-dead", true, true, "wired_port", "port_one_side_dead",
       "the charging port takes no power when the plug is turned over (degree under 1: only its data is "
       "slow)"},
      {F::port_resistive, "port-resistive", true, true, "wired_port", "port_resistive",
       "0.25 ohm more in the contacts of the charging port"},
      {F::port_intermittent, "port-intermittent", true, true, "wired_port", "port_intermittent",
       "the charging port loses contact again and again while the plug is moved"},
      {F::antenna_flex_open, "antenna-flex-open", true, true, "radios", "antenna_flex_open",
       "the bench's network comes in 32 dB weaker"},
      {F::mobile_antenna_open, "mobile-antenna-open", true, true, "radios", "antenna_flex_open",
       "the mobile network comes in 34 dB weaker"},
      {F::sim_reader_unseated, "sim-reader-unseated", true, true, "radios", "sim_reader_not_seen",
       "the SIM reader has no contact (degree: share of the time)"},
      {F::radio_absent, "radio-absent", true, true, "radios", "radio_absent",
       "Wi-Fi is switched on but does not come up (any degree)"},
      {F::nfc_absent, "nfc-absent", true, true, "radios", "radio_absent",
       "NFC is switched on but does not come up (any degree)"},
      {F::screws_missing, "screws-missing", true, true, "housing", "screws_missing",
       "one screw of the first group was forgotten (any degree)"},
      {F::cover_gap, "cover-gap", true, true, "housing", "cover_gap",
       "the first cover stands 0.4 mm off the frame"},
      {F::light_sensor_blocked, "light-sensor-blocked", true, true, "presence", "light_sensor_blocked",
       "3 % of the room's light comes to the light sensor"},
      {F::proximity_absent, "proximity-absent", true, true, "presence", "sensor_not_listed",
       "the phone does not list its proximity sensor (any degree)"},
      {F::fingerprint_flex_open, "fingerprint-flex-open", true, true, "presence",
       "fingerprint_reader_not_listed",
       "the fingerprint reader did not answer when the phone started, so that it is not listed (any degree)"},
      {F::motor_open, "motor-open", true, true, "vibration", "motor_silent",
       "the vibration motor does not move when it is started (any degree)"},
      {F::speaker_dead, "speaker-dead", true, true, "sound", "speaker_silent",
       "the loudspeaker's contacts are open: it gives no sound (any degree)"},
      {F::speaker_mesh_blocked, "speaker-mesh-blocked", true, true, "sound", "speaker_mesh_blocked",
       "the loudspeaker's mesh is blocked: 10 dB weaker, and nothing much above 1.5 kHz"},
      {F::speaker_rub, "speaker-rub", true, true, "sound", "speaker_rubs",
       "the loudspeaker's membrane touches something when it moves far"},
      {F::speaker_torn, "speaker-torn", true, true, "sound", "speaker_distorts",
       "the loudspeaker's membrane is torn: 3 dB weaker, a quarter of distortion"},
      {F::earpiece_dead, "earpiece-dead", true, true, "sound", "speaker_silent",
       "the earpiece gives no sound (any degree)"},
      {F::microphone_dead, "microphone-dead", true, true, "sound", "microphone_silent",
       "the bottom microphone hears nothing (any degree)"},
      {F::microphone_mesh_blocked, "microphone-mesh-blocked", true, true, "sound", "microphone_mesh_blocked",
       "the bottom microphone's mesh is blocked: 10 dB weaker, and nothing much above 1.5 kHz"},
      {F::panel_line_open, "panel-line-open", true, true, "panel", "line_open",
       "one column of the inner panel is bright or dark over the full height (by seed)"},
      {F::panel_stuck_pixels, "panel-stuck-pixels", true, true, "panel", "pixels_stuck_on",
       "a cluster of five sub-pixels of the inner panel that are always lit"},
      {F::panel_dark_pixels, "panel-dark-pixels", true, true, "panel", "pixels_dark",
       "six dark pixels all over the inner panel"},
      {F::panel_tint, "panel-tint", true, true, "panel", "uneven_patch",
       "a patch of the inner panel with 8 % less green"},
      {F::panel_fold_lifted, "panel-fold-lifted", true, false, "panel", "fold_layers_lifted",
       "the panel's layers have lifted along the fold"},
      {F::panel_black_blob, "panel-black-blob", true, true, "panel", "pressure_spot",
       "a black spot of 12 mm that spreads from a place under pressure (on which panel: by seed)"},
      {F::battery_full, "battery-full", true, true, "wireless_charging", "",
       "condition: the battery is at 100 %"},
      {F::phone_hot, "phone-hot", true, true, "wireless_charging", "", "condition: the skin is at 47 C"},
      {F::sensor_silent, "sensor-silent", true, false, "hinge_sweep", "",
       "condition: nothing keeps the hinge sensor on, so it shows no events"},
      {F::battery_frozen, "battery-frozen", true, true, "batteries", "",
       "condition: somebody stopped the updates of the battery service"},
      {F::fold_forced, "fold-forced", true, false, "hinge_sweep", "",
       "condition: somebody forces the fold state"},
      {F::sysfs_denied, "sysfs-denied", true, true, "batteries", "",
       "condition: the shell may not read the battery gauges (combined readings only)"},
      {F::sim_left_out, "sim-left-out", true, true, "radios", "",
       "condition: the bench's SIM was not put in"},
      {F::chart_held_badly, "chart-held-badly", true, true, "cameras", "",
       "condition: something is wrong with each aim at the chart, by seed; with a degree under 1 only with "
       "the "
       "first aim of each camera"},
  }};
  return list;
}

Result<Faults> Faults::parse(const std::vector<std::string>& words, std::string_view model) {
  Faults out;
  for (const auto& word : words) {
    const auto colon = word.find(':');
    const std::string name = word.substr(0, colon);
    double degree = 1;
    if (colon != std::string::npos) {
      const auto d = to_double(std::string_view(word).substr(colon + 1));
      if (!d || *d < 0 || *d > 1)
        return Error{ErrorCode::invalid_argument, "the degree of a fault is a number from 0 to 1",
                     printable(word), "Write NAME:DEGREE, for example coil-misplaced:0.5"};
      degree = *d;
    }
    const FaultInfo* info = nullptr;
    std::vector<std::string> known;
    for (const auto& f : fault_list()) {
      known.emplace_back(f.name);
      if (f.name == name) info = &f;
    }
    if (info == nullptr) {
      const auto near = nearest(name, known);
      return Error{ErrorCode::invalid_argument, "there is no fault of this name", printable(name),
                   near ? fmt::format("Did you mean {}? All names: --list-faults", *near)
                        : std::string("All names: --list-faults")};
    }
    if (!info->applies_to(model))
      return Error{ErrorCode::invalid_argument, fmt::format("the {} cannot have this fault", model), name,
                   "Which model can have which fault: --list-faults"};
    out.degree_[static_cast<std::size_t>(info->fault)] = degree;
  }
  return out;
}
}  // namespace hb::standin
