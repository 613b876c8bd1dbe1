// The quantity of a measure in words, and values outside their limits.
#include <algorithm>
#include <array>
#include <cmath>

#include "story.hpp"
#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
/// `key` with its check where two checks mean different things by one quantity. `unit`: in place of the
/// record's; "": the number alone says it.
struct Quantity {
  std::string_view key;
  const char* words;
  const char* unit = nullptr;
};
constexpr Quantity kQuantities[] = {
    // touch_grid
    {"devices_found", HB_TEXT("touch layers that answered")},
    {"dead_area_pct", HB_TEXT("share of the screen without an answer")},
    {"dead_region_cells", HB_TEXT("largest patch without an answer, in fields"), ""},
    {"edge_reach_mm", HB_TEXT("untouched margin at the edge")},
    {"straightness_rms_mm", HB_TEXT("waviness of straight strokes")},
    {"jitter_mm", HB_TEXT("trembling of a finger's place")},
    {"report_rate_hz", HB_TEXT("touch reports a second"), ""},
    {"ghost_contacts", HB_TEXT("touches while nobody touched it")},
    {"contacts_max", HB_TEXT("fingers seen at once")},
    {"lost_contacts", HB_TEXT("touches lost in mid-stroke")},
    // hinge_sweep
    {"range_deg", HB_TEXT("range of movement")},
    {"offset_closed_deg", HB_TEXT("angle off by, when closed")},
    {"offset_square_deg", HB_TEXT("angle off by, when half open")},
    {"offset_flat_deg", HB_TEXT("angle off by, when flat")},
    {"hysteresis_deg", HB_TEXT("difference between opening and closing")},
    {"monotone_residual_deg", HB_TEXT("angle running back while the hinge moves on")},
    {"gap_deg", HB_TEXT("widest range without a report of the angle")},
    {"gap_at_deg", HB_TEXT("middle of the widest range without a report")},
    {"dropout_clusters", HB_TEXT("places where the angle falls silent")},
    {"noise_deg", HB_TEXT("trembling of the angle at rest")},
    {"repeatability_deg", HB_TEXT("spread from fold to fold")},
    {"switch_closed_deg", HB_TEXT("angle at which the phone takes itself for closed")},
    {"switch_open_deg", HB_TEXT("angle at which the phone takes itself for open")},
    {"switch_closed_error_deg", HB_TEXT("switching to closed off by")},
    {"switch_open_error_deg", HB_TEXT("switching to open off by")},
    {"hinge_sweep.events", HB_TEXT("reports of the angle"), ""},
    // batteries
    {"batteries.present", HB_TEXT("battery cells that answer"), ""},
    {"soh_pct", HB_TEXT("share of the original capacity")},
    {"design_ratio", HB_TEXT("rated size against the right battery"), ""},
    {"resistance_mohm", HB_TEXT("electrical resistance")},
    {"coulomb_error_pct", HB_TEXT("charge counter off by")},
    {"rest_ocv_error_mv", HB_TEXT("voltage at rest off by")},
    {"temperature_c", HB_TEXT("temperature")},
    {"temperature_rise_c", HB_TEXT("warming under load")},
    {"share_error_pct", HB_TEXT("uneven share of the load"), "%"},
    {"imbalance_mv", HB_TEXT("difference between the cells")},
    {"load_sag_mv", HB_TEXT("fall of the voltage under load")},
    // wireless_charging
    {"couple_s", HB_TEXT("time until charging began on the pad")},
    {"net_current_ma", HB_TEXT("charging current")},
    {"power_fraction", HB_TEXT("share of the expected charging power"), ""},
    {"dropouts", HB_TEXT("breaks while lying still")},
    {"shifted_current_ratio", HB_TEXT("share of the current left when moved a little"), ""},
    {"temp_slope_c_per_min", HB_TEXT("warming while charging on the pad"), HB_TEXT("°C a minute")},
    // wired_port
    {"current_limit_ma", HB_TEXT("current that the phone may take")},
    {"current_ma", HB_TEXT("charging current by cable")},
    {"port_voltage_mv", HB_TEXT("voltage at the port")},
    {"wiggle_dropouts", HB_TEXT("breaks while the plug was moved")},
    {"link_mbit_s", HB_TEXT("data speed by cable")},
    // cameras
    {"cameras.listed", HB_TEXT("cameras that the phone lists"), ""},
    {"cameras.present", HB_TEXT("share of the cameras that answer"), ""},
    {"mtf50_centre_cpp", HB_TEXT("sharpness in the middle"), ""},
    {"mtf50_worst_corner_cpp", HB_TEXT("sharpness in the weakest corner"), ""},
    {"corner_balance", HB_TEXT("evenness of sharpness, 1 is even"), ""},
    {"glare_pct", HB_TEXT("haze")},
    {"white_delta_e00", HB_TEXT("colour cast on white"), ""},
    {"shading_asymmetry_pct", HB_TEXT("uneven brightness")},
    {"stuck_pixels", HB_TEXT("spots that stay in the picture"), ""},
    {"pixels_searched_pct", HB_TEXT("share of the picture that could be searched for spots")},
    {"focus_px_per_dpt", HB_TEXT("movement of the focus"), ""},
    {"focus_best_dpt", HB_TEXT("setting of the focus that is sharpest"), ""},
    {"focus_error_dpt", HB_TEXT("focus off by"), ""},
    {"light_gain", HB_TEXT("light of the camera's lamp through a finger"), ""},
    {"frames", HB_TEXT("pictures taken"), ""},
    // panel
    {"observed_bright_dots", HB_TEXT("bright dots")},
    {"observed_dark_dots", HB_TEXT("dark dots")},
    {"observed_lines", HB_TEXT("lines")},
    {"observed_patches", HB_TEXT("spots")},
    {"observed_fold_marks", HB_TEXT("faults along the fold")},
    {"observed_patch_area_mm2", HB_TEXT("area of the spots")},
    // sound
    {"speaker_heard", HB_TEXT("test tones heard of it"), ""},
    {"speaker_level_db", HB_TEXT("loudness against a good phone's")},
    {"speaker_treble_db", HB_TEXT("high notes against the middle ones")},
    {"speaker_thd_pct", HB_TEXT("distortion")},
    {"speaker_rub_buzz_db", HB_TEXT("buzzing against the tone")},
    {"microphone_heard", HB_TEXT("test tones that it heard"), ""},
    {"microphone_level_db", HB_TEXT("sensitivity against a good phone's")},
    {"microphone_treble_db", HB_TEXT("high notes against the middle ones")},
    {"microphone_noise_dbfs", HB_TEXT("noise while the room was quiet")},
    // keys
    {"presses_seen", HB_TEXT("presses seen")},
    {"presses_missed", HB_TEXT("presses not seen")},
    {"bounces", HB_TEXT("chattering of the contact")},
    {"longest_press_s", HB_TEXT("longest press")},
    {"presses_at_rest", HB_TEXT("presses while nobody touched it")},
    {"lid_toggles", HB_TEXT("changes of the lid switch")},
    {"lid_toggles_off", HB_TEXT("changes of the lid switch missing or too many")},
    // motion
    {"gravity_error_ms2", HB_TEXT("gravity off by")},
    {"offset_ms2", HB_TEXT("reading at rest off by")},
    {"response", HB_TEXT("share of gravity that is felt"), ""},
    {"cross_axis_pct", HB_TEXT("tilt against another axis")},
    {"noise_ms2", HB_TEXT("trembling of the reading at rest")},
    {"gyro_bias_deg_s", HB_TEXT("turn reported at rest"), HB_TEXT("° a second")},
    {"motion.events", HB_TEXT("reports of the motion sensor"), ""},
    // vibration
    {"silent_bursts", HB_TEXT("starts of the motor that were not felt"), ""},
    {"bursts_seen", HB_TEXT("starts of the motor that were felt"), ""},
    {"shake_ms2", HB_TEXT("strength of the shaking")},
    {"rest_ms2", HB_TEXT("shaking while the motor was off")},
    {"line_share", HB_TEXT("share of the shaking that is the motor's"), ""},
    // radios
    {"level_dbm", HB_TEXT("level of our network")},
    {"level_spread_db", HB_TEXT("swing of our network's level")},
    {"sim_seen", HB_TEXT("SIM cards that were read"), ""},
    {"mobile_level_dbm", HB_TEXT("received power")},
    // presence
    {"open_value", HB_TEXT("reading in the open")},
    {"covered_share", HB_TEXT("share left under a finger"), ""},
    {"camera_lights", HB_TEXT("cameras that list a light"), ""},
    {"fingerprint_readers", HB_TEXT("fingerprint readers that the phone lists"), ""},
    // housing
    {"observed_gap_mm", HB_TEXT("widest gap seen")},
    {"observed_screws_missing", HB_TEXT("screws missing or too many")}};

/// A yes-or-no measure that came out wrong, as a sentence.
struct Wrong {
  std::string_view key;
  const char* says;
};
constexpr Wrong kWrong[] = {
    {"batteries.present", HB_TEXT("did not answer")},
    {"batteries.sign_inverted", HB_TEXT("the phone reports charging as discharging")},
    {"cameras.present", HB_TEXT("did not answer")},
    {"housing.observed_colour_agreed", HB_TEXT("the technician saw another colour than agreed")},
    {"housing.observed_new_adhesive", HB_TEXT("no new adhesive was used under a cover")},
    {"housing.observed_seated", HB_TEXT("the technician saw a cover that does not sit flush")},
    {"keys.stuck_at_rest", HB_TEXT("is held down by itself")},
    {"presence.listed", HB_TEXT("is not listed by the phone")},
    {"radios.bluetooth_up", HB_TEXT("did not come up")},
    {"radios.nfc_up", HB_TEXT("did not come up")},
    {"radios.wifi_up", HB_TEXT("did not come up")},
    {"touch_grid.devices_found", HB_TEXT("not every touch layer of the phone answered")},
    {"vibration.observed_felt", HB_TEXT("the technician did not feel the motor")},
    {"wired_port.powered", HB_TEXT("took no power")},
    {"wireless_charging.coupled", HB_TEXT("did not start to charge on the pad")},
    {"wireless_charging.shifted_kept",
     HB_TEXT("charging stopped when the phone was moved a little on the pad")}};

const Quantity* known(std::string_view key) {
  const auto dot = key.rfind('.');
  const auto quantity = key.substr(dot == std::string_view::npos ? 0 : dot + 1);
  for (const auto& q : kQuantities)
    if (q.key == key || q.key == quantity) return &q;
  return nullptr;
}

std::string said_wrong(const CheckView& c, const MeasureView& m, const Language& l) {
  for (const auto& w : kWrong)
    if (w.key == m.key) {
      if (c.phone_as_it_came && m.key == "housing.observed_new_adhesive")
        return l.tr("the adhesive under a cover is not fresh");
      return l.tr(w.says);
    }
  return {};
}

std::string figure_with(const std::string& number, const std::string& unit, const Language& l) {
  const std::string v = l.number(number);
  const bool close = unit.empty() || unit.starts_with("°") != unit.starts_with("°C");
  const std::string figure = close ? v + unit : v + "\u00A0" + unit;
  // Words of the language itself after the figure keep its own order; signs and Latin units are one piece.
  const bool words = unit.find(' ') != std::string::npos;
  return words ? figure : l.ltr(figure);
}

/// "camera wide: haze 14 %, at most 6 % allowed"; more digits where two would look like the limit itself.
std::string outside_limit(const CheckView& c, const VerdictView& v, const Language& l) {
  const auto& m = v.measure;
  const std::string who = part_words(c, m.part, l);
  if (const auto wrong = said_wrong(c, m, l); !wrong.empty())
    return who.empty() || m.key.starts_with("touch_grid.") || m.key.starts_with("wireless_charging.")
               ? wrong
               : l.fill("{0}: {1}", who, wrong);
  const bool above = v.upper && (!v.lower || m.value > (*v.lower + *v.upper) / 2);
  const std::optional<double> limit = above ? v.upper : v.lower;
  int digits = std::abs(m.value) >= 100 ? 3 : 2;
  while (limit && digits < 5 && *limit != m.value &&
         significant(m.value, digits) == significant(*limit, digits))
    ++digits;
  const double shown = std::abs(m.value) < 0.1 * m.u ? 0 : m.value;  // not one lost in its own uncertainty
  const bool counted = m.unit == "1" && m.u == 0 && m.value == std::round(m.value);
  const Quantity* q = known(m.key);
  const std::string unit = q && q->unit ? l.tr(q->unit) : plain_unit(m.unit, l);
  const auto figure = [&](double value, bool whole) {
    return whole ? l.ltr(fixed(value, 0)) : figure_with(significant(value, digits), unit, l);
  };
  std::string s = quantity_words(m.key, l) + " " + figure(shown, counted);
  if (!who.empty()) s = l.fill("{0}: {1}", who, s);
  if (!limit) return s;
  if (above && counted && *limit == 0) return l.fill("{0}, none allowed", s);
  const std::string bound = figure(*limit, counted && *limit == std::round(*limit));
  return above ? l.fill("{0}, at most {1} allowed", s, bound) : l.fill("{0}, at least {1} wanted", s, bound);
}
}  // namespace

bool all_kept(const Verdicts& list) {
  return std::none_of(list.begin(), list.end(), [](const auto* v) {
    return v->outcome == Outcome::fail || v->outcome == Outcome::marginal;
  });
}

bool proved(const Verdicts& list) {
  return !list.empty() &&
         std::all_of(list.begin(), list.end(), [](const auto* v) { return v->outcome == Outcome::pass; });
}

Told join(Told pieces) {
  std::erase_if(pieces, [](const Piece& p) { return p.text.empty(); });
  for (auto& p : pieces) p.text = sentence(p.text);
  return pieces;
}

std::string said(const Told& told, std::size_t most) {
  std::size_t good = 0, bad = 0;
  for (const auto& p : told) (p.bad ? bad : good) += 1;
  std::size_t room = most > bad ? most - bad : 0;
  if (bad == 0) room = std::max<std::size_t>(room, 1);
  std::string out;
  for (const auto& p : told) {
    if (!p.bad && room == 0) continue;
    if (!p.bad) --room;
    out += (out.empty() ? "" : " ") + p.text;
  }
  return out;
}

std::string plain_unit(std::string_view unit, const Language& l) {
  struct Plain {
    std::string_view unit;
    const char* words;
  };
  static constexpr Plain plain[] = {{"1", ""},
                                    {"cycles/px", ""},
                                    {"cpp", ""},
                                    {"px/dpt", ""},
                                    {"dE00", ""},
                                    {"count", ""},
                                    {"points", "%"},
                                    {"dpt", ""},
                                    {"K", "°C"},
                                    {"lx", "lux"},
                                    {"Hz", HB_TEXT("a second")},
                                    {"K/min", HB_TEXT("°C a minute")},
                                    {"degC/min", HB_TEXT("°C a minute")},
                                    {"deg/s", HB_TEXT("° a second")}};
  for (const auto& p : plain)
    if (p.unit == unit) return *p.words ? l.tr(p.words) : std::string();
  return unit_text(unit);
}

std::string quantity_words(std::string_view key, const Language& l) {
  if (const Quantity* q = known(key)) return l.tr(q->words);
  // A check that these files do not know, perhaps of a later program.
  const auto dot = key.rfind('.');
  std::string out(key.substr(dot == std::string_view::npos ? 0 : dot + 1));
  for (const std::string_view u :
       {"_pct", "_deg", "_mm", "_ma", "_mv", "_s", "_c", "_hz", "_db", "_mah", "_v", "_cpp"})
    if (out.ends_with(u)) {
      out = out.substr(0, out.size() - u.size());
      break;
    }
  std::replace(out.begin(), out.end(), '_', ' ');
  return l.isolated(out);
}

std::string with_unit(double value, std::string_view unit, int digits, const Language& l) {
  return figure_with(significant(value, digits), plain_unit(unit, l), l);
}

Piece worst_values(const CheckView& c, std::initializer_list<std::string_view> told, const Language& l) {
  std::vector<std::string> found;
  for (const Outcome o : {Outcome::fail, Outcome::marginal})
    for (const auto& v : c.verdicts) {
      const bool known = std::any_of(told.begin(), told.end(),
                                     [&](auto q) { return v.measure.key.ends_with("." + std::string(q)); });
      if (v.outcome == o && !known && found.size() < 2) found.push_back(outside_limit(c, v, l));
    }
  if (found.size() < 2) return {found.empty() ? "" : found[0], true};
  return {l.fill("{0}; {1}", found[0], found[1]), true};
}

std::string part_words(const CheckView& c, std::string_view part, const Language& l) {
  std::string p(part);
  const auto known = [&](const std::string& whole, const char* pattern) {
    std::string t = l.trc("part", whole);
    return t == whole ? l.fill(pattern, l.isolated(p)) : t;
  };
  if (c.id == "touch_grid" || c.id == "panel") {
    const auto maps = std::count_if(c.plots.begin(), c.plots.end(), [](const auto& x) {
      return x.kind == "touch_map" || x.kind == "defect_map";
    });
    if (p.empty() || (maps == 1 && p == "inner")) return l.tr("the screen");
    return known("the " + p + " screen", HB_TEXT("the {0} screen"));
  }
  if (c.id == "batteries") {
    if (p.empty() || p == "combined") return l.tr("the battery");
    std::replace(p.begin(), p.end(), '-', ' ');
    if (p == "battery") return l.trc("part", "battery");
    if (p.starts_with("battery ")) p.erase(0, 8);
    return known("battery " + p, HB_TEXT("battery {0}"));
  }
  if (p.empty()) return p;
  if (c.id == "cameras") return known("camera " + p, HB_TEXT("camera {0}"));
  if (c.id == "keys") return known("the " + p + " key", HB_TEXT("the {0} key"));
  if (c.id == "motion") return l.fill("axis {0}", l.ltr(p));
  if (c.id == "wired_port") return p == "turned" ? l.tr("turned over") : l.tr("the first way round");
  if (const std::string t = l.trc("part", p); t != p) return t;
  return l.isolated(p);
}
}  // namespace hb::sheet
