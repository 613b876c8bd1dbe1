// One plain sentence or two on what each check measured.
#include <algorithm>
#include <array>
#include <cmath>

#include "story.hpp"
#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
std::string fields_answered(const CheckView& c, const Language& l) {
  Names said;
  bool whole = true;
  for (const auto& p : c.plots) {
    const auto* reached = p.kind == "touch_map" ? p.values("reached") : nullptr;
    if (!reached) continue;
    const auto total = static_cast<std::int64_t>(reached->size());
    const std::int64_t dead =
        std::count_if(reached->begin(), reached->end(), [](double r) { return !(r >= 0.5); });
    const std::string who = part_words(c, p.part, l), all = count(total);
    if (dead > 0) whole = false;
    if (dead > 0 && c.outcome == Outcome::pass)
      said.push_back(l.filln("{1} of the {2} field of {3} answered", "{1} of the {2} fields of {3} answered",
                             total, count(total - dead), all, who));
    else if (dead > 0)
      said.push_back(l.filln("{1} of the {2} field of {3} did not answer",
                             "{1} of the {2} fields of {3} did not answer", total, count(dead), all, who));
    else if (said.empty() || !whole)
      said.push_back(l.filln("every one of the {1} field of {2} answered",
                             "every one of the {1} fields of {2} answered", total, all, who));
    else
      said.push_back(l.fill("every one of the {0} of {1}", all, who));
  }
  if (!whole && c.outcome == Outcome::pass)
    return l.fill("{0}; single missed fields are allowed", listed(said, l));
  if (!said.empty()) return listed(said, l);
  for (const auto* v : c.measures("dead_area_pct"))
    said.push_back(l.fill("{0} of {1} answered", with_unit(100 - v->measure.value, "%", 3, l),
                          part_words(c, v->measure.part, l)));
  return listed(said, l);
}

Told touch(const CheckView& c, const Language& l) {
  const auto ghosts = c.measures("ghost_contacts");
  double own = 0;
  for (const auto* v : ghosts) own += v->measure.value;
  std::string rest;
  if (own > 0)
    rest = l.filln("{1} touch was reported while nobody touched it",
                   "{1} touches were reported while nobody touched it", std::llround(own),
                   count(std::llround(own)));
  else if (!ghosts.empty())
    rest = l.tr("no touches were reported while nobody touched it");
  return join({{fields_answered(c, l),
                !all_kept(c.measures("dead_area_pct")) || !all_kept(c.measures("dead_region_cells"))},
               {rest, own > 0},
               worst_values(c, {"ghost_contacts", "dead_area_pct", "dead_region_cells"}, l)});
}

Told hinge(const CheckView& c, const Language& l) {
  const auto degrees = [&](double v, int decimals) { return l.ltr(l.number(fixed(v, decimals)) + "°"); };
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
    way = l.fill("moves through {0}", degrees(v->measure.value, 0));
  if (seen)
    angle = kept ? l.fill("the angle it reports is within {0} of the true one", degrees(offset, 1))
                 : l.fill("the angle it reports is up to {0} wrong", degrees(offset, 1));
  const auto gaps = c.measures("gap_deg"), silent = c.measures("dropout_clusters");
  if (proved(gaps) && all_kept(silent)) gap = l.tr("it reports all the way without a gap");
  if (!all_kept(gaps) || !all_kept(silent)) {
    gap = l.tr("it falls silent on the way");
    for (const auto* v : gaps)
      if (v->measure.value >= 1)
        gap = l.fill("it falls silent on the way, over {0}", degrees(v->measure.value, 0));
  }
  if (!way.empty() && !angle.empty() && kept) way = l.fill("{0}; {1}", way, angle), angle.clear();
  return join(
      {way,
       {angle, !kept},
       {gap, !all_kept(gaps) || !all_kept(silent)},
       worst_values(
           c, {"offset_closed_deg", "offset_square_deg", "offset_flat_deg", "gap_deg", "dropout_clusters"},
           l)});
}

Told batteries(const CheckView& c, const Language& l) {
  Names holds, missing;
  for (const auto* v : c.measures("soh_pct")) {
    const std::string who = part_words(c, v->measure.part, l),
                      share = l.ltr(fixed(v->measure.value, 0) + "\u00A0%");
    holds.push_back(holds.empty() ? l.fill("{0} holds {1} of its original capacity", who, share)
                                  : l.fill("{0} {1}", who, share));
  }
  for (const auto* v : c.measures("present"))
    if (v->measure.value < 0.5) missing.push_back(part_words(c, v->measure.part, l));
  std::string warm, gone;
  double most = -1e9;
  for (const auto* v : c.measures("temperature_c")) most = std::max(most, v->measure.value);
  if (most > -100) warm = l.fill("warmest reading {0}", l.ltr(fixed(most, 0) + "\u00A0°C"));
  if (!missing.empty())
    gone = l.filln("{1} did not answer", "{1} did not answer", std::ssize(missing), listed(missing, l));
  return join({bad(gone),
               {listed(holds, l), !all_kept(c.measures("soh_pct"))},
               {warm, !all_kept(c.measures("temperature_c"))},
               worst_values(c, {"present", "temperature_c", "soh_pct"}, l)});
}

Told wireless(const CheckView& c, const Language& l) {
  for (const auto* v : c.measures("coupled"))
    if (v->measure.value < 0.5) return {bad(l.tr("Did not start to charge on the pad."))};
  std::string charged, start;
  double breaks = -1;
  for (const auto* v : c.measures("dropouts")) breaks = std::max(breaks, v->measure.value);
  for (const auto* v : c.measures("net_current_ma"))
    charged =
        l.fill("charged wirelessly at {0}", l.ltr(l.number(fixed(v->measure.value / 1000, 1)) + "\u00A0A"));
  if (charged.empty() && breaks >= 0) charged = l.tr("charged wirelessly");
  if (breaks == 0) charged = l.fill("{0} without a break", charged);
  if (breaks > 0)
    charged = l.filln("{2}, with {1} break while lying still", "{2}, with {1} breaks while lying still",
                      std::llround(breaks), count(std::llround(breaks)), charged);
  for (const auto* v : c.measures("couple_s"))
    start =
        l.fill("it started {0} seconds after being laid down", l.ltr(l.number(fixed(v->measure.value, 1))));
  return join({{charged, breaks > 0},
               {start, !all_kept(c.measures("couple_s"))},
               worst_values(c, {"dropouts", "couple_s"}, l)});
}

Told cameras(const CheckView& c, const Language& l) {
  Names there, missing;
  const auto name = [&](const std::string& part) {
    const std::string known = l.trc("camera", part);
    return known == part ? l.isolated(part) : known;
  };
  for (const auto* v : c.measures("present")) {  // between: it cannot be told which of them answers
    if (v->measure.value > 0.99) there.push_back(v->measure.part);
    if (v->measure.value < 0.01) missing.push_back(v->measure.part);
  }
  const auto centre = c.measures("mtf50_centre_cpp"), corner = c.measures("mtf50_worst_corner_cpp"),
             glare = c.measures("glare_pct");
  std::string took, sharp, gone;
  Names names, lost;
  for (const auto& p : there) names.push_back(name(p));
  for (const auto& p : missing) lost.push_back(name(p));
  if (there.size() == 1)
    took = l.fill("{0} took test pictures", part_words(c, there[0], l));
  else if (!there.empty())
    took = l.filln("{0} camera ({1}) took test pictures", "{0} cameras ({1}) took test pictures",
                   std::ssize(there), listed(names, l));
  if (proved(centre))
    sharp = proved(corner) ? l.tr("sharp in the middle and in the corners") : l.tr("sharp in the middle");
  if (!sharp.empty() && proved(glare)) sharp = l.fill("{0}, without haze", sharp);
  if (!took.empty() && !sharp.empty()) took = l.fill("{0}: {1}", took, sharp);
  if (missing.size() == 1)
    gone = l.filln("{1} did not answer", "{1} did not answer", 1, part_words(c, missing[0], l));
  else if (!missing.empty())
    gone = l.filln("{0} camera did not answer: {1}", "{0} cameras did not answer: {1}", std::ssize(missing),
                   listed(lost, l));
  Names driven;
  if (proved(c.measures("focus_px_per_dpt"))) driven.push_back(l.tr("the focus moves"));
  if (proved(c.measures("light_gain"))) driven.push_back(l.tr("the camera's light shines"));
  std::string spots;
  if (proved(c.measures("stuck_pixels"))) spots = l.tr("no stuck pixel was seen");
  return join({bad(gone), worst_values(c, {"present"}, l), took, listed(driven, l), spots});
}
}  // namespace

Told measured(const CheckView& c, const Language& l) {
  if (c.outcome == Outcome::not_tested) return {l.tr("No result: the reason is below.")};
  if (c.outcome == Outcome::waived) return {l.tr("Left out as agreed with you: the reason is below.")};
  using Says = Told (*)(const CheckView&, const Language&);
  struct Known {
    std::string_view id;
    Says says;
  };
  static constexpr std::array<Known, 14> rows{{{"touch_grid", touch},
                                               {"hinge_sweep", hinge},
                                               {"batteries", batteries},
                                               {"wireless_charging", wireless},
                                               {"cameras", cameras},
                                               {"sound", said_of_sound},
                                               {"keys", said_of_keys},
                                               {"motion", said_of_motion},
                                               {"wired_port", said_of_port},
                                               {"vibration", said_of_vibration},
                                               {"radios", said_of_radios},
                                               {"presence", said_of_presence},
                                               {"panel", said_of_panel},
                                               {"housing", said_of_housing}}};
  Says says = said_of_another;
  for (const auto& r : rows)
    if (r.id == c.id) says = r.says;
  Told s = says(c, l);
  if (s.empty() && !c.findings.empty()) s = {bad(sentence(l.of_record(c.findings.front().says)))};
  if (s.empty())
    s = {c.outcome == Outcome::pass ? l.tr("Checked, nothing wrong found.")
                                    : l.tr("The shop has the measured details.")};
  for (auto& p : s) p.text = capitalised(p.text);
  if (!c.taken_at.empty()) s.push_back(bad(l.fill("Measured on {0}.", date(c.taken_at, l))));  // is kept
  return s;
}
}  // namespace hb::sheet
