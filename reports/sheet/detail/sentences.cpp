#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "story.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
using Verdicts = std::vector<const VerdictView*>;

bool all_kept(const Verdicts& list) {
  return std::none_of(list.begin(), list.end(), [](const auto* v) {
    return v->outcome == Outcome::fail || v->outcome == Outcome::marginal;
  });
}

/// What a claim needs: it was measured, had a limit, and kept it.
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

/// The quantity of a key in words, for a value that has no sentence of its own.
std::string quantity_words(std::string_view key) {
  struct Name {
    std::string_view quantity, words;
  };
  static constexpr std::array<Name, 28> names{
      {{"resistance_mohm", "electrical resistance"},
       {"soh_pct", "share of the original capacity"},
       {"design_ratio", "rated size against the right battery"},
       {"imbalance_mv", "difference between the cells"},
       {"share_error_pct", "uneven share of the load"},
       {"coulomb_error_pct", "charge counter off by"},
       {"rest_ocv_error_mv", "voltage at rest off by"},
       {"temperature_rise_c", "warming under load"},
       {"temperature_c", "temperature"},
       {"hysteresis_deg", "difference between opening and closing"},
       {"range_deg", "range of movement"},
       {"noise_deg", "trembling of the angle at rest"},
       {"repeatability_deg", "spread from fold to fold"},
       {"dropout_clusters", "places where the angle falls silent"},
       {"report_rate_hz", "touch reports a second"},
       {"edge_reach_mm", "untouched margin at the edge"},
       {"straightness_rms_mm", "waviness of straight strokes"},
       {"lost_contacts", "touches lost in mid-stroke"},
       {"contacts_max", "fingers seen at once"},
       {"dead_region_cells", "largest patch without an answer, in fields"},
       {"glare_pct", "haze"},
       {"mtf50_centre_cpp", "sharpness in the middle"},
       {"mtf50_worst_corner_cpp", "sharpness in the weakest corner"},
       {"corner_balance", "evenness of sharpness, 1 is even"},
       {"shading_asymmetry_pct", "uneven brightness"},
       {"white_delta_e00", "colour cast on white"},
       {"net_current_ma", "charging current"},
       {"power_fraction", "share of the expected charging power"}}};
  const auto dot = key.rfind('.');
  const auto quantity = key.substr(dot == std::string_view::npos ? 0 : dot + 1);
  for (const auto& n : names)
    if (n.quantity == quantity) return std::string(n.words);
  static constexpr std::array<std::string_view, 12> units{"_pct", "_deg", "_mm", "_ma",  "_mv", "_s",
                                                          "_c",   "_hz",  "_db", "_mah", "_v",  "_cpp"};
  std::string out(quantity);
  for (const auto u : units)
    if (out.ends_with(u)) {
      out.resize(out.size() - u.size());
      break;
    }
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

std::string with_unit(double value, std::string_view unit, int digits = 2) {
  const std::string u = unit_text(unit), v = significant(value, digits);
  return u.empty() ? v : u == "°" ? v + u : v + "\u00A0" + u;
}

/// A yes-or-no measure that came out as no, as a sentence; empty for other measures.
std::string_view said_no(std::string_view key) {
  if (key == "wireless_charging.shifted_kept")
    return "charging stopped when the phone was moved a little on the pad";
  if (key == "touch_grid.devices_found") return "not every touch layer of the phone answered";
  return {};
}

/// "camera wide: haze 14 %, at most 6 % allowed"; more digits where two would look like the limit itself.
std::string outside_limit(const CheckView& c, const VerdictView& v) {
  const auto& m = v.measure;
  if (const auto no = said_no(m.key); !no.empty()) return std::string(no);
  const bool above = v.upper && (!v.lower || m.value > (*v.lower + *v.upper) / 2);
  const std::optional<double> limit = above ? v.upper : v.lower;
  int digits = std::abs(m.value) >= 100 ? 3 : 2;
  while (limit && digits < 5 && *limit != m.value &&
         significant(m.value, digits) == significant(*limit, digits))
    ++digits;
  const std::string who = part_words(c, m.part);
  std::string s =
      (who.empty() ? "" : who + ": ") + quantity_words(m.key) + " " + with_unit(m.value, m.unit, digits);
  if (!limit) return s;
  const std::string bound = with_unit(*limit, m.unit, digits);
  return s + (above ? ", at most " + bound + " allowed" : ", at least " + bound + " wanted");
}

/// The first measured values that are outside their limits, so that a fail always shows its number.
std::string worst_values(const CheckView& c, std::initializer_list<std::string_view> told) {
  std::vector<std::string> found;
  for (const Outcome o : {Outcome::fail, Outcome::marginal})
    for (const auto& v : c.verdicts) {
      const bool known = std::any_of(told.begin(), told.end(),
                                     [&](auto q) { return v.measure.key.ends_with("." + std::string(q)); });
      if (v.outcome == o && !known && found.size() < 2) found.push_back(outside_limit(c, v));
    }
  std::string out;
  for (const auto& f : found) out += (out.empty() ? "" : "; ") + f;
  return out;
}

std::string fields_answered(const CheckView& c) {
  std::vector<std::string> said;
  bool whole = true;
  for (const auto& p : c.plots) {
    const auto* reached = p.kind == "touch_map" ? p.values("reached") : nullptr;
    if (!reached) continue;
    const auto total = static_cast<std::int64_t>(reached->size());
    const std::int64_t dead =
        std::count_if(reached->begin(), reached->end(), [](double r) { return !(r >= 0.5); });
    const std::string who = part_words(c, p.part);
    if (dead > 0 && c.outcome == Outcome::pass) {
      whole = false;
      said.push_back(
          fmt::format("{} of the {} fields of {} answered", count(total - dead), count(total), who));
    } else if (dead > 0) {
      whole = false;
      said.push_back(fmt::format("{} of the {} fields of {} did not answer", count(dead), count(total), who));
    } else if (said.empty() || !whole) {
      said.push_back(fmt::format("every one of the {} fields of {} answered", count(total), who));
    } else {
      said.push_back(fmt::format("every one of the {} of {}", count(total), who));
    }
  }
  if (!whole && c.outcome == Outcome::pass) return listed(said) + "; single missed fields are allowed";
  if (!said.empty()) return listed(said);
  for (const auto* v : c.measures("dead_area_pct"))
    said.push_back(fmt::format("{}\u00A0% of {} answered", significant(100 - v->measure.value, 3),
                               part_words(c, v->measure.part)));
  return listed(said);
}

std::string touch(const CheckView& c) {
  const auto ghosts = c.measures("ghost_contacts");
  double own = 0;
  for (const auto* v : ghosts) own += v->measure.value;
  std::string rest;
  if (own > 0)
    rest = fmt::format("{} touches were reported while nobody touched it", count(std::llround(own)));
  else if (!ghosts.empty())
    rest = "No touches were reported while nobody touched it";
  return join(
      {fields_answered(c), rest, worst_values(c, {"ghost_contacts", "dead_area_pct", "dead_region_cells"})});
}

std::string hinge(const CheckView& c) {
  double offset = 0;
  bool seen = false, kept = true;
  for (const char* q : {"offset_closed_deg", "offset_square_deg", "offset_flat_deg"})
    for (const auto* v : c.measures(q)) {
      seen = true;
      offset = std::max(offset, std::abs(v->measure.value));
      kept = kept && all_kept({v});
    }
  std::string way, angle, gap;
  for (const auto* v : c.measures("range_deg"))
    way = fmt::format("moves through {}°", fixed(v->measure.value, 0));
  if (seen)
    angle = kept ? fmt::format("the angle it reports is within {}° of the true one", fixed(offset, 1))
                 : fmt::format("the angle it reports is up to {}° wrong", fixed(offset, 1));
  const auto gaps = c.measures("gap_deg"), silent = c.measures("dropout_clusters");
  if (proved(gaps) && all_kept(silent)) gap = "it reports all the way without a gap";
  if (!all_kept(gaps) || !all_kept(silent)) gap = "it falls silent on the way";
  for (const auto* v : gaps)
    if (gap.starts_with("it falls") && v->measure.value >= 1)
      gap += fmt::format(", over {}°", fixed(v->measure.value, 0));
  if (!way.empty() && !angle.empty()) way += "; " + angle, angle.clear();
  return join({way, angle, gap,
               worst_values(c, {"offset_closed_deg", "offset_square_deg", "offset_flat_deg", "gap_deg",
                                "dropout_clusters"})});
}

std::string batteries(const CheckView& c) {
  std::vector<std::string> holds, missing;
  for (const auto* v : c.measures("soh_pct"))
    holds.push_back(
        fmt::format("{}{}\u00A0%{}", part_words(c, v->measure.part) + (holds.empty() ? " holds " : " "),
                    fixed(v->measure.value, 0), holds.empty() ? " of its original capacity" : ""));
  for (const auto* v : c.measures("present"))
    if (v->measure.value < 0.5) missing.push_back(part_words(c, v->measure.part));
  std::string warm;
  double most = -1e9;
  for (const auto* v : c.measures("temperature_c")) most = std::max(most, v->measure.value);
  if (most > -100) warm = fmt::format("warmest reading {}\u00A0°C", fixed(most, 0));
  return join({missing.empty() ? "" : listed(missing) + " did not answer", listed(holds), warm,
               worst_values(c, {"present", "temperature_c", "soh_pct"})});
}

std::string wireless(const CheckView& c) {
  for (const auto* v : c.measures("coupled"))
    if (v->measure.value < 0.5) return "Did not start to charge on the pad.";
  std::string charged, start;
  double breaks = -1;
  for (const auto* v : c.measures("dropouts")) breaks = std::max(breaks, v->measure.value);
  for (const auto* v : c.measures("net_current_ma"))
    charged = fmt::format("charged wirelessly at {}\u00A0A", fixed(v->measure.value / 1000, 1));
  if (charged.empty() && breaks >= 0) charged = "charged wirelessly";
  if (breaks == 0) charged += " without a break";
  if (breaks > 0)
    charged += fmt::format(", with {} {} while lying still", count(std::llround(breaks)),
                           breaks < 1.5 ? "break" : "breaks");
  for (const auto* v : c.measures("couple_s"))
    start = fmt::format("it started {} seconds after being laid down", fixed(v->measure.value, 1));
  return join({charged, start, worst_values(c, {"dropouts", "couple_s"})});
}

std::string cameras(const CheckView& c) {
  std::vector<std::string> there, missing;
  for (const auto* v : c.measures("present"))
    (v->measure.value >= 0.5 ? there : missing).push_back(v->measure.part);
  const auto centre = c.measures("mtf50_centre_cpp"), corner = c.measures("mtf50_worst_corner_cpp"),
             glare = c.measures("glare_pct");
  std::string took, sharp;
  if (!there.empty())
    took = there.size() == 1 ? fmt::format("camera {} took test pictures", there[0])
                             : fmt::format("{} cameras ({}) took test pictures", there.size(), listed(there));
  if (proved(centre) && proved(corner))
    sharp = "sharp in the middle and in the corners";
  else if (proved(centre))
    sharp = "sharp in the middle";
  if (!sharp.empty() && proved(glare)) sharp += ", without haze";
  if (!took.empty() && !sharp.empty()) took += ": " + sharp;
  std::string gone;
  if (!missing.empty())
    gone = fmt::format("{} {} did not answer", missing.size() == 1 ? "camera" : "cameras", listed(missing));
  return join({gone, took, worst_values(c, {"present"})});
}

std::string other(const CheckView& c) {
  const auto judged = std::count_if(c.verdicts.begin(), c.verdicts.end(),
                                    [](const auto& v) { return v.outcome.has_value(); });
  std::string kept;
  if (judged > 0 && c.outcome == Outcome::pass)
    kept = judged == 1 ? "one value measured, inside its limit"
                       : fmt::format("{} values measured, all inside their limits", judged);
  return join({kept, worst_values(c, {})});
}
}  // namespace

std::string part_words(const CheckView& c, std::string_view part) {
  std::string p(part);
  if (c.id == "touch_grid") {
    if (p.empty()) return "the screen";
    const auto maps =
        std::count_if(c.plots.begin(), c.plots.end(), [](const auto& x) { return x.kind == "touch_map"; });
    return maps == 1 && p == "inner" ? "the screen" : fmt::format("the {} screen", p);
  }
  if (c.id == "batteries") {
    if (p.empty() || p == "combined") return "the battery";
    std::replace(p.begin(), p.end(), '-', ' ');
    return p.starts_with("battery") ? p : "battery " + p;
  }
  if (c.id == "cameras" && !p.empty()) return "camera " + p;
  return p;
}

std::string measured(const CheckView& c) {
  if (c.outcome == Outcome::not_tested) return "No result: the reason is below.";
  if (c.outcome == Outcome::waived) return "Left out as agreed with you: the reason is below.";
  std::string s = c.id == "touch_grid"          ? touch(c)
                  : c.id == "hinge_sweep"       ? hinge(c)
                  : c.id == "batteries"         ? batteries(c)
                  : c.id == "wireless_charging" ? wireless(c)
                  : c.id == "cameras"           ? cameras(c)
                                                : other(c);
  if (s.empty() && !c.findings.empty()) s = sentence(c.findings.front().says);
  if (s.empty())
    s = c.outcome == Outcome::pass ? "Checked, nothing wrong found." : "The shop has the measured details.";
  return s;
}

std::string meaning(const CheckView& c) {
  struct Means {
    std::string_view id, means;
  };
  static constexpr std::array<Means, 5> rows{
      {{"touch_grid", "Touches in that place can be missed, or happen by themselves."},
       {"hinge_sweep",
        "The phone can misjudge how far it is open, so a screen may switch on or off at the wrong moment."},
       {"batteries", "The phone can run for a shorter time, or switch off without warning."},
       {"wireless_charging",
        "Charging without a cable can be slow, stop, or not start; charging by cable is not affected by this "
        "result."},
       {"cameras", "Pictures can be blurred or hazy, or a camera may not open."}}};
  std::string_view means = "This part of the phone did not behave as it should.";
  for (const auto& r : rows)
    if (r.id == c.id) means = r.means;
  std::string out;
  if (!c.findings.empty()) out = sentence(c.findings.front().says) + " ";
  if (c.outcome == Outcome::marginal)
    return out +
           "The result lies so close to its limit that the measurement cannot decide. Ask for this test to "
           "be repeated.";
  return out + std::string(means);
}
}  // namespace hb::sheet
