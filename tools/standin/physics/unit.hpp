/// One phone of a model: the model's figures with the spread of manufacture (by seed) and its faults, as
/// plain numbers that the parts of the simulation read. Threads: value type.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "tools/standin/optics/optics.hpp"
#include "tools/standin/physics/faults.hpp"
#include "tools/standin/physics/model.hpp"
#include "tools/standin/physics/panel.hpp"
#include "tools/standin/physics/sound.hpp"

namespace hb::standin {
struct CellUnit {
  CellSpec spec;
  bool present = true;
  double capacity_mah = 0;     ///< true capacity
  double design_told_mah = 0;  ///< what its gauge gives as design capacity
  double r0_ohm = 0;           ///< with its connector
  int cycles = 0;
  double gauge_offset_mv = 0;
};

/// Contacts whose centre lies inside are not seen. Millimetres from the top left corner.
struct DeadZone {
  double left = 0, top = 0, right = 0, bottom = 0;
  bool round = false;  ///< the ellipse that fills the rectangle
  [[nodiscard]] bool contains(double x_mm, double y_mm) const noexcept;
};
struct PanelUnit {
  PanelSpec spec;
  std::vector<DeadZone> dead;
  double noise_mm = 0.05;
  double ghost_every_s = 0;  ///< 0: never
};

struct HingeUnit {
  double offset_deg = 0;
  double play_deg = 0.8;  ///< full width of the hysteresis
  double noise_deg = 0.25;
  double stop_deg = 0;                            ///< smallest angle that can be reached
  double silent_from_deg = 0, silent_to_deg = 0;  ///< no events inside; equal: none
  bool silent = false;
};

struct CoilUnit {
  double rail_w = 0;
  double misplaced_mm = 0;
  double couple_s = 2.5;  ///< when perfectly placed
  bool open = false;
  double dropout_every_s = 0;  ///< 0: never
};

struct LensUnit {
  CameraSpec spec;
  Focus focus;
  Lamp lamp;  ///< off
  bool present = true;
  double blur_px = 0.7, tilt_px = 0, haze = 0, shading = 0.18;
  std::array<double, 3> white{1, 1, 1};
  std::vector<StuckPixel> stuck;
};

struct KeyUnit {
  KeySpec spec;
  bool open = false;   ///< a press is not seen
  bool stuck = false;  ///< held down all the time
  double bounces = 0;  ///< share of the presses whose contact chatters
};

/// x to the right, y to the top edge, z out of the screen (AOSP sensor axes).
struct MotionUnit {
  std::array<double, 3> offset_ms2{}, scale{1, 1, 1}, bias_deg_s{};
  std::array<bool, 3> dead{};  ///< axes of the accelerometer that read about zero
  double noise_ms2 = 0.03, noise_deg_s = 0.15;
};

/// The charging port; ways round are 1 and 2, 0 is none.
struct PortUnit {
  double resistance_ohm = 0.12;  ///< of cable and contacts
  int dead_side = 0;             ///< takes no power this way round
  int slow_side = 0;             ///< has no fast data lanes this way round
  double lost_every_s = 0;       ///< of being moved, contact is lost; 0: never
};

struct RadioUnit {
  double wifi_dbm = -50, spread_db = 1.2;           ///< level of the bench's network where the phone lies
  bool wifi_dead = false, nfc_dead = false;         ///< switched on, but does not come up
  double mobile_dbm = -88, mobile_spread_db = 1.5;  ///< reference signal received power
  bool sim_in = true;                               ///< the bench's
  double sim_lost = 0;                              ///< share of the time without contact
  /// Whether its SIM is read at this time of the phone's clock.
  [[nodiscard]] bool reads_sim(double uptime_s) const noexcept;
};

/// The closed housing, as a feeler gauge and a good look find it.
struct CoverUnit {
  std::string part;
  double gap_mm = 0.05;
  bool seated = true, colour_agreed = true, new_adhesive = true;
};
struct HousingUnit {
  std::vector<ScrewSpec> screws;  ///< that are there
  std::vector<CoverUnit> covers;
};

struct SmallSensorsUnit {
  double room_lux = 350;
  double transmission = 1;  ///< of what lies over the light sensor
  bool proximity_listed = true, fingerprint_listed = true;
};

struct MotorUnit {
  double hz = 168, shake_ms2 = 3;  ///< peak, in the accelerometer of a phone on a cloth
  bool open = false;
};

struct Unit {
  const ModelSpec* model = nullptr;
  std::uint64_t seed = 1;
  Faults faults;
  std::vector<CellUnit> cells;
  std::vector<PanelUnit> panels;  ///< their touch layers
  std::vector<PanelLook> looks;   ///< what they show, in the same order
  std::optional<HingeUnit> hinge;
  CoilUnit coil;
  std::vector<LensUnit> lenses;
  std::vector<KeyUnit> keys;
  MotionUnit motion;
  PortUnit port;
  RadioUnit radio;
  HousingUnit housing;
  SmallSensorsUnit small;
  MotorUnit motor;
  SoundUnit sound;
  double ambient_c = 24;
  double start_soc = 0.6;
  double boot_s = 5000;  ///< uptime when the simulation starts
  bool gossips = false;  ///< says personal content wherever a bench listens (tools/standin/gossip)
};

[[nodiscard]] Unit make_unit(const ModelSpec& model, std::uint64_t seed, const Faults& faults);
}  // namespace hb::standin
