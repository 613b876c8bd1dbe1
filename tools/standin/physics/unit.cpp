#include "tools/standin/physics/unit.hpp"

#include <algorithm>
#include <cmath>

#include "tools/standin/physics/noise.hpp"

namespace hb::standin {
namespace {
void vary_cells(Unit& u) {
  const Noise spread(u.seed, "cells");
  for (std::size_t i = 0; i < u.model->cells.size(); ++i) {
    const auto n = 10 * i;
    CellUnit c;
    c.spec = u.model->cells[i];
    c.cycles = static_cast<int>(spread.uniform(n, 20, 151));
    const double health = 1.01 - 0.05 * (c.cycles - 20) / 130.0 * spread.uniform(n + 1, 0.8, 1.0);
    c.capacity_mah = c.spec.design_mah * health;
    c.design_told_mah = c.spec.design_mah;
    c.r0_ohm = c.spec.r0_ohm * spread.uniform(n + 2, 0.92, 1.08);
    c.gauge_offset_mv = spread.uniform(n + 3, -1.0, 1.0);
    u.cells.push_back(c);
  }
  CellUnit& first = u.cells.front();
  if (const double d = u.faults.degree(Fault::pack_aged); d > 0) {
    first.capacity_mah += d * (0.70 * first.spec.design_mah - first.capacity_mah);
    first.r0_ohm *= 1 + 0.6 * d;
    first.cycles += static_cast<int>(500 * d);
  }
  const double wrong = 1 - 0.4 * u.faults.degree(Fault::pack_wrong);
  first.capacity_mah *= wrong;
  first.design_told_mah *= wrong;
  first.r0_ohm += 0.20 * u.faults.degree(Fault::battery_connector_resistive);
  first.r0_ohm += 1.5 * u.faults.degree(Fault::cell_collapses);
  if (u.faults.has(Fault::second_pack_unplugged)) u.cells.back().present = false;
}

void vary_panels(Unit& u) {
  const Noise spread(u.seed, "panels");
  for (std::size_t i = 0; i < u.model->panels.size(); ++i)
    u.panels.push_back({u.model->panels[i], {}, 0.05 * spread.uniform(i, 0.8, 1.2), 0});
  PanelUnit& p = u.panels.front();
  const double w = p.spec.width_mm, h = p.spec.height_mm;
  // The line grid is 5 mm apart and a contact needs its two neighbouring lines, so one open line blinds one
  // pitch on either side of it.
  const double pitch = 5;
  if (const double d = u.faults.degree(Fault::fold_flex_pinched); d > 0 && p.spec.fold_y_px) {
    const double y = *p.spec.fold_y_px / p.spec.height_px * h;
    p.dead.push_back({-1, y - 4 * d, w + 1, y + 4 * d});
  }
  if (const double d = u.faults.degree(Fault::digitizer_row_open); d > 0) {
    const double y = pitch * std::round(0.27 * h / pitch);
    p.dead.push_back({-1, y - pitch * d, w + 1, y + pitch * d});
  }
  if (const double d = u.faults.degree(Fault::digitizer_column_open); d > 0) {
    const double x = pitch * std::round(0.36 * w / pitch);
    p.dead.push_back({x - pitch * d, -1, x + pitch * d, h + 1});
  }
  if (const double d = u.faults.degree(Fault::panel_cracked); d > 0)
    p.dead.push_back({0.72 * w - 7.5 * d, 0.78 * h - 7.5 * d, 0.72 * w + 7.5 * d, 0.78 * h + 7.5 * d, true});
  if (const double d = u.faults.degree(Fault::ghost_touch); d > 0) p.ghost_every_s = 0.7 / d;
}

void vary_hinge(Unit& u) {
  if (!u.model->hinged) return;
  HingeUnit h;
  h.offset_deg = 0.6 * Noise(u.seed, "hinge").gauss(0) + 9 * u.faults.degree(Fault::hinge_magnet_shifted);
  h.play_deg += (7 - h.play_deg) * u.faults.degree(Fault::hinge_sensor_play);
  h.stop_deg = 14 * u.faults.degree(Fault::hinge_not_closing);
  const double d = u.faults.degree(Fault::hinge_flex_loose);
  h.silent_from_deg = 95 - 10 * d, h.silent_to_deg = 95 + 10 * d;
  h.silent = u.faults.has(Fault::sensor_silent);
  u.hinge = h;
}

/// The motor of the first back camera; from infinity almost to 10 cm, the blur as an opening of some 3 mm
/// gives at this picture size (from memory).
Focus focus_of(const Unit& u, const LensUnit& l, std::uint64_t n) {
  Focus f;
  if (!l.spec.focuses) return f;
  const Noise spread(u.seed, "focus");
  f.far_dpt = 0.1, f.near_dpt = 10;
  f.px_per_dpt = spread.uniform(n, 0.6, 0.75);
  f.off_dpt = spread.uniform(n + 1, -0.2, 0.2);
  f.stuck_dpt = spread.uniform(n + 2, 0.3, 6);
  f.stuck = u.faults.degree(Fault::focus_motor_stuck);
  return f;
}

/// The light beside the first back camera.
void vary_lamp(Unit& u) {
  const Noise spread(u.seed, "lamp");
  Lamp& lamp = u.lenses.front().lamp;
  lamp.listed = true;
  lamp.leaks = spread.uniform(0, 0.01, 0.06);
  lamp.shines = u.faults.has(Fault::torch_flex_open) ? 0 : spread.uniform(1, 0.6, 1.2);
}

void vary_coil(Unit& u) {
  const Noise spread(u.seed, "coil");
  u.coil.rail_w = u.model->coil_rail_w;
  u.coil.misplaced_mm = spread.uniform(0, 0, 0.5);
  u.coil.couple_s = spread.uniform(1, 2.3, 2.7);
  const double d = u.faults.degree(Fault::coil_misplaced);
  u.coil.misplaced_mm += d * (5.4 - u.coil.misplaced_mm);
  u.coil.open = u.faults.has(Fault::coil_flex_open);
  if (const double i = u.faults.degree(Fault::coil_flex_intermittent); i > 0) u.coil.dropout_every_s = 4 / i;
}

/// Most sensors have none or one that the phone's own correction has missed.
void stick_pixels(Unit& u) {
  const Noise spread(u.seed, "sensor pixels");
  for (std::size_t i = 0; i < u.lenses.size(); ++i) {
    const auto n = 1000 * i;
    auto count = static_cast<std::uint64_t>(spread.uniform(n, 0, 2.6));
    if (i == 0)
      count += static_cast<std::uint64_t>(std::lround(16 * u.faults.degree(Fault::camera_stuck_pixels)));
    for (std::uint64_t k = 1; k <= count; ++k)
      u.lenses[i].stuck.push_back({spread.uniform(n + 3 * k, 0.01, 0.99),
                                   spread.uniform(n + 3 * k + 1, 0.01, 0.99),
                                   spread.uniform(n + 3 * k + 2) < 0.5});
  }
}

void vary_lenses(Unit& u) {
  const Noise spread(u.seed, "lenses");
  for (std::size_t i = 0; i < u.model->cameras.size(); ++i) {
    const auto n = 10 * i;
    LensUnit l;
    l.spec = u.model->cameras[i];
    l.focus = focus_of(u, l, n);
    l.blur_px = spread.uniform(n, 0.6, 0.8);
    l.shading = spread.uniform(n + 1, 0.12, 0.22);
    for (std::size_t c = 0; c < 3; ++c) l.white[c] = spread.uniform(n + 2 + c, 0.985, 1.015);
    u.lenses.push_back(l);
  }
  LensUnit& first = u.lenses.front();
  const double film = u.faults.degree(Fault::lens_film_left_on);
  first.haze = 0.35 * film;
  first.blur_px += 0.6 * film + 1.6 * u.faults.degree(Fault::camera_soft);
  first.tilt_px = 2.2 * u.faults.degree(Fault::camera_tilted);
  first.present = !u.faults.has(Fault::camera_flex_unseated);
  stick_pixels(u);
  vary_lamp(u);
}

void vary_keys(Unit& u) {
  for (const auto& spec : u.model->keys) {
    KeyUnit k{spec};
    const bool volume = spec.part != "power";
    k.open = volume && u.faults.has(Fault::key_flex_open);
    k.stuck = spec.part == "volume down" && u.faults.has(Fault::key_stuck);
    if (!volume) k.bounces = u.faults.degree(Fault::key_bounce);
    u.keys.push_back(k);
  }
}

void vary_motion(Unit& u) {
  const Noise spread(u.seed, "motion");
  MotionUnit& m = u.motion;
  for (std::size_t i = 0; i < 3; ++i) {
    m.offset_ms2[i] = spread.uniform(10 * i, -0.2, 0.2);
    m.scale[i] = spread.uniform(10 * i + 1, 0.99, 1.01);
    m.bias_deg_s[i] = spread.uniform(10 * i + 2, -0.4, 0.4);
  }
  m.offset_ms2[2] += 2 * u.faults.degree(Fault::accel_offset);
  m.bias_deg_s[1] += 6 * u.faults.degree(Fault::gyro_bias);
  m.dead[1] = u.faults.has(Fault::accel_axis_dead);
}

void vary_port(Unit& u) {
  u.port.resistance_ohm = Noise(u.seed, "port").uniform(0, 0.10, 0.14);
  u.port.resistance_ohm += 0.25 * u.faults.degree(Fault::port_resistive);
  if (const double d = u.faults.degree(Fault::port_one_side_dead); d > 0)
    (d < 1 ? u.port.slow_side : u.port.dead_side) = 2;
  if (const double d = u.faults.degree(Fault::port_intermittent); d > 0) u.port.lost_every_s = 1.5 / d;
}

void vary_radio(Unit& u) {
  u.radio.wifi_dbm = Noise(u.seed, "radio").uniform(0, -54, -46);
  u.radio.wifi_dbm -= 32 * u.faults.degree(Fault::antenna_flex_open);
  u.radio.wifi_dead = u.faults.has(Fault::radio_absent);
  u.radio.nfc_dead = u.faults.has(Fault::nfc_absent);
  u.radio.mobile_dbm = Noise(u.seed, "mobile").uniform(0, -92, -84);
  u.radio.mobile_dbm -= 34 * u.faults.degree(Fault::mobile_antenna_open);
  u.radio.sim_in = !u.faults.has(Fault::sim_left_out);
  u.radio.sim_lost = u.faults.degree(Fault::sim_reader_unseated);
}

void vary_housing(Unit& u) {
  const Noise spread(u.seed, "housing");
  u.housing.screws = u.model->screws;
  if (u.faults.has(Fault::screws_missing)) --u.housing.screws.front().count;
  for (std::size_t i = 0; i < u.model->covers.size(); ++i) {
    CoverUnit c;
    c.part = u.model->covers[i];
    c.gap_mm = spread.uniform(i, 0, 0.1);
    u.housing.covers.push_back(c);
  }
  CoverUnit& first = u.housing.covers.front();
  if (const double d = u.faults.degree(Fault::cover_gap); d > 0)
    first.gap_mm += 0.4 * d, first.seated = false;
}

void vary_small_sensors(Unit& u) {
  u.small.room_lux = Noise(u.seed, "small sensors").uniform(0, 280, 420);
  u.small.transmission = 1 - 0.97 * u.faults.degree(Fault::light_sensor_blocked);
  u.small.proximity_listed = !u.faults.has(Fault::proximity_absent);
  u.small.fingerprint_listed = !u.faults.has(Fault::fingerprint_flex_open);
}

void vary_motor(Unit& u) {
  const Noise spread(u.seed, "motor");
  u.motor.hz = spread.uniform(0, 164, 172);
  u.motor.shake_ms2 = spread.uniform(1, 2.5, 3.5);
  u.motor.open = u.faults.has(Fault::motor_open);
}
}  // namespace

bool RadioUnit::reads_sim(double uptime_s) const noexcept {
  constexpr double kEvery_s = 2.5;  // contact is lost
  return sim_in && std::fmod(uptime_s, kEvery_s) >= sim_lost * kEvery_s;
}

bool DeadZone::contains(double x_mm, double y_mm) const noexcept {
  if (x_mm < left || x_mm > right || y_mm < top || y_mm > bottom) return false;
  if (!round) return true;
  const double dx = (2 * x_mm - left - right) / (right - left);
  const double dy = (2 * y_mm - top - bottom) / (bottom - top);
  return dx * dx + dy * dy <= 1;
}

Unit make_unit(const ModelSpec& model, std::uint64_t seed, const Faults& faults) {
  Unit u;
  u.model = &model;
  u.seed = seed;
  u.faults = faults;
  const Noise spread(seed, "unit");
  u.ambient_c = spread.uniform(0, 22, 26);
  u.start_soc = faults.has(Fault::battery_full) ? 1.0 : spread.uniform(1, 0.55, 0.70);
  u.boot_s = std::floor(spread.uniform(2, 3000, 9000));
  vary_cells(u);
  vary_panels(u);
  u.looks = make_panel_looks(model, seed, faults);
  vary_hinge(u);
  vary_coil(u);
  vary_lenses(u);
  vary_keys(u);
  vary_motion(u);
  vary_port(u);
  vary_radio(u);
  vary_housing(u);
  vary_small_sensors(u);
  vary_motor(u);
  u.sound = make_sound(model, seed, faults);
  return u;
}
}  // namespace hb::standin
