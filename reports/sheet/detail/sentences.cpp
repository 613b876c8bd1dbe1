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

std::string keys(const CheckView& c) {
  std::vector<std::string> worked, silent, held, chatters;
  for (const auto* v : c.measures("stuck_at_rest"))
    if (v->measure.value >= 0.5) held.push_back(part_words(c, v->measure.part));
  for (const auto* v : c.measures("presses_seen")) {
    const std::string who = part_words(c, v->measure.part);
    if (std::find(held.begin(), held.end(), who) != held.end()) continue;
    const auto missed = c.measures("presses_missed");
    const bool all = std::any_of(missed.begin(), missed.end(), [&](const auto* m) {
      return m->measure.part == v->measure.part && m->measure.value < 0.5;
    });
    if (all) worked.push_back(who);
    if (v->measure.value < 0.5) silent.push_back(who);
  }
  for (const auto* v : c.measures("bounces"))
    if (v->measure.value > 0)
      chatters.push_back(fmt::format(
          "the contact of {} chattered {}", part_words(c, v->measure.part),
          v->measure.value < 1.5 ? std::string("once") : count(std::llround(v->measure.value)) + " times"));
  std::string lid;
  if (proved(c.measures("lid_toggles_off"))) lid = "the phone notices being closed and opened";
  return join(
      {worked.empty() ? "" : "every press was seen of " + listed(worked),
       silent.empty() ? "" : "no press was seen of " + listed(silent),
       held.empty() ? "" : listed(held) + (held.size() == 1 ? " is" : " are") + " held down by itself",
       listed(chatters), lid, worst_values(c, {"presses_missed", "stuck_at_rest", "bounces"})});
}

std::string motion(const CheckView& c) {
  const auto felt = c.measures("response"), offset = c.measures("offset_ms2"),
             turn = c.measures("gyro_bias_deg_s");
  std::vector<std::string> dead;
  for (const auto* v : felt)
    if (v->measure.value < 0.5 && !all_kept({v})) dead.push_back(part_words(c, v->measure.part));
  std::string gravity, still;
  if (proved(felt) && proved(offset) && all_kept(c.measures("gravity_error_ms2")))
    gravity = "felt gravity right on all six sides";
  if (proved(turn)) still = "reported no turn while lying still";
  return join({dead.empty() ? "" : "did not feel gravity along " + listed(dead), gravity, still,
               dead.empty() ? worst_values(c, {}) : worst_values(c, {"response", "gravity_error_ms2"})});
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
  if (c.id == "keys" && !p.empty()) return "the " + p + " key";
  if (c.id == "motion" && !p.empty()) return "axis " + p;
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
                  : c.id == "keys"              ? keys(c)
                  : c.id == "motion"            ? motion(c)
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
  static constexpr std::array<Means, 7> rows{
      {{"touch_grid", "Touches in that place can be missed, or happen by themselves."},
       {"hinge_sweep",
        "The phone can misjudge how far it is open, so a screen may switch on or off at the wrong moment."},
       {"batteries", "The phone can run for a shorter time, or switch off without warning."},
       {"wireless_charging",
        "Charging without a cable can be slow, stop, or not start; charging by cable is not affected by this "
        "result."},
       {"cameras", "Pictures can be blurred or hazy, or a camera may not open."},
       {"keys", "A key can miss a press, act twice, or act by itself."},
       {"motion", "The screen can turn the wrong way, and games or step counting can be wrong."}}};
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
