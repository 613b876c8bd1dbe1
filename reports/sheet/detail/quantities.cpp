// The quantity of a measure in words, and values outside their limits.
#include <algorithm>
#include <array>
#include <cmath>

#include "story.hpp"
#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
struct Quantity {
  std::string_view quantity;
  const char* words;
};
constexpr std::array<Quantity, 66> kQuantities{
    {{"resistance_mohm", HB_TEXT("electrical resistance")},
     {"soh_pct", HB_TEXT("share of the original capacity")},
     {"design_ratio", HB_TEXT("rated size against the right battery")},
     {"imbalance_mv", HB_TEXT("difference between the cells")},
     {"share_error_pct", HB_TEXT("uneven share of the load")},
     {"coulomb_error_pct", HB_TEXT("charge counter off by")},
     {"rest_ocv_error_mv", HB_TEXT("voltage at rest off by")},
     {"temperature_rise_c", HB_TEXT("warming under load")},
     {"temperature_c", HB_TEXT("temperature")},
     {"hysteresis_deg", HB_TEXT("difference between opening and closing")},
     {"range_deg", HB_TEXT("range of movement")},
     {"noise_deg", HB_TEXT("trembling of the angle at rest")},
     {"repeatability_deg", HB_TEXT("spread from fold to fold")},
     {"dropout_clusters", HB_TEXT("places where the angle falls silent")},
     {"report_rate_hz", HB_TEXT("touch reports a second")},
     {"edge_reach_mm", HB_TEXT("untouched margin at the edge")},
     {"straightness_rms_mm", HB_TEXT("waviness of straight strokes")},
     {"lost_contacts", HB_TEXT("touches lost in mid-stroke")},
     {"contacts_max", HB_TEXT("fingers seen at once")},
     {"dead_region_cells", HB_TEXT("largest patch without an answer, in fields")},
     {"glare_pct", HB_TEXT("haze")},
     {"focus_px_per_dpt", HB_TEXT("movement of the focus")},
     {"focus_error_dpt", HB_TEXT("focus off by")},
     {"light_gain", HB_TEXT("light of the camera's lamp through a finger")},
     {"mtf50_centre_cpp", HB_TEXT("sharpness in the middle")},
     {"mtf50_worst_corner_cpp", HB_TEXT("sharpness in the weakest corner")},
     {"corner_balance", HB_TEXT("evenness of sharpness, 1 is even")},
     {"shading_asymmetry_pct", HB_TEXT("uneven brightness")},
     {"white_delta_e00", HB_TEXT("colour cast on white")},
     {"stuck_pixels", HB_TEXT("spots that stay in the picture")},
     {"net_current_ma", HB_TEXT("charging current")},
     {"power_fraction", HB_TEXT("share of the expected charging power")},
     {"presses_missed", HB_TEXT("presses not seen")},
     {"longest_press_s", HB_TEXT("longest press")},
     {"presses_at_rest", HB_TEXT("presses while nobody touched it")},
     {"lid_toggles_off", HB_TEXT("changes of the lid switch missing or too many")},
     {"gravity_error_ms2", HB_TEXT("gravity off by")},
     {"offset_ms2", HB_TEXT("reading at rest off by")},
     {"response", HB_TEXT("share of gravity that is felt")},
     {"cross_axis_pct", HB_TEXT("tilt against another axis")},
     {"noise_ms2", HB_TEXT("trembling of the reading at rest")},
     {"gyro_bias_deg_s", HB_TEXT("turn reported at rest")},
     {"current_limit_ma", HB_TEXT("current that the phone may take")},
     {"current_ma", HB_TEXT("charging current by cable")},
     {"port_voltage_mv", HB_TEXT("voltage at the port")},
     {"dropouts", HB_TEXT("breaks while lying still")},
     {"wiggle_dropouts", HB_TEXT("breaks while the plug was moved")},
     {"link_mbit_s", HB_TEXT("data speed by cable")},
     {"level_dbm", HB_TEXT("level of our network")},
     {"mobile_level_dbm", HB_TEXT("received power")},
     {"open_value", HB_TEXT("reading in the open")},
     {"covered_share", HB_TEXT("share left under a finger")},
     {"speaker_level_db", HB_TEXT("loudness against a good phone's")},
     {"speaker_treble_db", HB_TEXT("high notes against the middle ones")},
     {"speaker_thd_pct", HB_TEXT("distortion")},
     {"speaker_rub_buzz_db", HB_TEXT("buzzing against the tone")},
     {"microphone_level_db", HB_TEXT("sensitivity against a good phone's")},
     {"microphone_treble_db", HB_TEXT("high notes against the middle ones")},
     {"observed_gap_mm", HB_TEXT("widest gap seen")},
     {"observed_screws_missing", HB_TEXT("screws missing or too many")},
     {"observed_bright_dots", HB_TEXT("bright dots")},
     {"observed_dark_dots", HB_TEXT("dark dots")},
     {"observed_lines", HB_TEXT("lines")},
     {"observed_patches", HB_TEXT("spots")},
     {"observed_fold_marks", HB_TEXT("faults along the fold")},
     {"observed_patch_area_mm2", HB_TEXT("area of the spots")}}};

/// For a value that has no sentence of its own.
std::string quantity_words(std::string_view key, const Language& l) {
  const auto dot = key.rfind('.');
  const auto quantity = key.substr(dot == std::string_view::npos ? 0 : dot + 1);
  for (const auto& n : kQuantities)
    if (n.quantity == quantity) return l.tr(n.words);
  static constexpr std::array<std::string_view, 12> units{"_pct", "_deg", "_mm", "_ma",  "_mv", "_s",
                                                          "_c",   "_hz",  "_db", "_mah", "_v",  "_cpp"};
  std::string out(quantity);
  for (const auto u : units)
    if (out.ends_with(u)) {
      out.resize(out.size() - u.size());
      break;
    }
  std::replace(out.begin(), out.end(), '_', ' ');
  return l.isolated(out);
}

/// A yes-or-no measure that came out as no, as a sentence; empty for other measures.
std::string said_no(std::string_view key, const Language& l) {
  if (key == "wireless_charging.shifted_kept")
    return l.tr("charging stopped when the phone was moved a little on the pad");
  if (key == "housing.observed_seated") return l.tr("the technician saw a cover that does not sit flush");
  if (key == "housing.observed_colour_agreed") return l.tr("the technician saw another colour than agreed");
  if (key == "housing.observed_new_adhesive") return l.tr("no new adhesive was used under a cover");
  if (key == "touch_grid.devices_found") return l.tr("not every touch layer of the phone answered");
  return {};
}

/// "camera wide: haze 14 %, at most 6 % allowed"; more digits where two would look like the limit itself.
std::string outside_limit(const CheckView& c, const VerdictView& v, const Language& l) {
  const auto& m = v.measure;
  if (auto no = said_no(m.key, l); !no.empty()) return no;
  const bool above = v.upper && (!v.lower || m.value > (*v.lower + *v.upper) / 2);
  const std::optional<double> limit = above ? v.upper : v.lower;
  int digits = std::abs(m.value) >= 100 ? 3 : 2;
  while (limit && digits < 5 && *limit != m.value &&
         significant(m.value, digits) == significant(*limit, digits))
    ++digits;
  const double shown = std::abs(m.value) < 0.1 * m.u ? 0 : m.value;  // not one lost in its own uncertainty
  const bool counted = m.unit == "1" && m.u == 0 && m.value == std::round(m.value);
  std::string s = quantity_words(m.key, l) + " " +
                  (counted ? l.ltr(fixed(m.value, 0)) : with_unit(shown, m.unit, digits, l));
  if (const std::string who = part_words(c, m.part, l); !who.empty()) s = l.fill("{0}: {1}", who, s);
  if (!limit) return s;
  const std::string bound = with_unit(*limit, m.unit, digits, l);
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

std::string join(const std::vector<std::string>& pieces) {
  std::string out;
  for (const auto& p : pieces) {
    if (p.empty()) continue;
    if (!out.empty()) out += ' ';
    out += sentence(p);
  }
  return out;
}

std::string with_unit(double value, std::string_view unit, int digits, const Language& l) {
  const std::string u = unit_text(unit), v = l.number(significant(value, digits));
  return l.ltr(u.empty() ? v : u == "°" ? v + u : v + "\u00A0" + u);
}

std::string worst_values(const CheckView& c, std::initializer_list<std::string_view> told,
                         const Language& l) {
  std::vector<std::string> found;
  for (const Outcome o : {Outcome::fail, Outcome::marginal})
    for (const auto& v : c.verdicts) {
      const bool known = std::any_of(told.begin(), told.end(),
                                     [&](auto q) { return v.measure.key.ends_with("." + std::string(q)); });
      if (v.outcome == o && !known && found.size() < 2) found.push_back(outside_limit(c, v, l));
    }
  if (found.size() < 2) return found.empty() ? "" : found[0];
  return l.fill("{0}; {1}", found[0], found[1]);
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
