// Sentences on the side keys, the motion sensors and checks that have none of their own; and what a result
// means for the owner.
#include <algorithm>
#include <array>
#include <cmath>

#include "story.hpp"
#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {

Told said_of_keys(const CheckView& c, const Language& l) {
  Names worked, silent, held, chatters;
  for (const auto* v : c.measures("stuck_at_rest"))
    if (v->measure.value >= 0.5) held.push_back(part_words(c, v->measure.part, l));
  for (const auto* v : c.measures("presses_seen")) {
    const std::string who = part_words(c, v->measure.part, l);
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
      chatters.push_back(l.filln("the contact of {1} chattered once",
                                 "the contact of {1} chattered {2} times", std::llround(v->measure.value),
                                 part_words(c, v->measure.part, l), count(std::llround(v->measure.value))));
  std::string lid;
  if (proved(c.measures("lid_toggles_off"))) lid = l.tr("the phone notices being closed and opened");
  return join({worked.empty() ? "" : l.fill("every press was seen of {0}", listed(worked, l)),
               bad(silent.empty() ? "" : l.fill("no press was seen of {0}", listed(silent, l))),
               bad(held.empty() ? ""
                                : l.filln("{1} is held down by itself", "{1} are held down by itself",
                                          std::ssize(held), listed(held, l))),
               bad(listed(chatters, l)), lid,
               worst_values(c, {"presses_missed", "stuck_at_rest", "bounces"}, l)});
}

Told said_of_motion(const CheckView& c, const Language& l) {
  const auto felt = c.measures("response"), offset = c.measures("offset_ms2"),
             turn = c.measures("gyro_bias_deg_s");
  Names dead;
  for (const auto* v : felt)
    if (v->measure.value < 0.5 && !all_kept({v})) dead.push_back(part_words(c, v->measure.part, l));
  std::string gravity, still;
  if (proved(felt) && proved(offset) && all_kept(c.measures("gravity_error_ms2")))
    gravity = l.tr("felt gravity right on all six sides");
  if (proved(turn)) still = l.tr("reported no turn while lying still");
  return join(
      {bad(dead.empty() ? "" : l.fill("did not feel gravity along {0}", listed(dead, l))), gravity, still,
       dead.empty() ? worst_values(c, {}, l) : worst_values(c, {"response", "gravity_error_ms2"}, l)});
}

Told said_of_another(const CheckView& c, const Language& l) {
  const std::int64_t judged = std::count_if(c.verdicts.begin(), c.verdicts.end(),
                                            [](const auto& v) { return v.outcome.has_value(); });
  std::string kept;
  if (judged > 0 && c.outcome == Outcome::pass)
    kept = l.filln("one value measured, inside its limit", "{0} values measured, all inside their limits",
                   judged);
  return join({kept, worst_values(c, {}, l)});
}

Told meaning(const CheckView& c, const Language& l) {
  struct Means {
    std::string_view id;
    const char* means;
  };
  static constexpr std::array<Means, 14> rows{
      {{"touch_grid", HB_TEXT("Touches in that place can be missed, or happen by themselves.")},
       {"hinge_sweep",
        HB_TEXT("The phone can misjudge how far it is open, so a screen may switch on or off at the wrong "
                "moment.")},
       {"batteries", HB_TEXT("The phone can run for a shorter time, or switch off without warning.")},
       {"wireless_charging",
        HB_TEXT("Charging without a cable can be slow, stop, or not start; charging by cable is not affected "
                "by this result.")},
       {"cameras", HB_TEXT("Pictures can be blurred or hazy, or a camera may not open.")},
       {"sound", HB_TEXT("Calls, music and recordings can be faint, muffled or silent.")},
       {"keys", HB_TEXT("A key can miss a press, act twice, or act by itself.")},
       {"motion", HB_TEXT("The screen can turn the wrong way, and games or step counting can be wrong.")},
       {"wired_port",
        HB_TEXT("Charging by cable can be slow, stop when the plug moves, or work only one way round.")},
       {"vibration", HB_TEXT("Calls and messages may not be felt.")},
       {"radios", HB_TEXT("The connection can be slow, reach less far, or be missing.")},
       {"presence", HB_TEXT("The screen's brightness, or the screen during a call, can behave oddly.")},
       {"panel", HB_TEXT("The fault stays in the picture, and it can grow.")},
       {"housing", HB_TEXT("Dust or water can get in, or a part can come loose.")}}};
  const char* means = HB_TEXT("This part of the phone did not behave as it should.");
  for (const auto& r : rows)
    if (r.id == c.id) means = r.means;
  Told out;
  const bool about_adhesive = !c.findings.empty() && c.findings.front().id == "adhesive_not_renewed";
  if (!c.findings.empty() && !(c.phone_as_it_came && about_adhesive))
    out.emplace_back(sentence(l.of_record(c.findings.front().says)));
  if (c.outcome == Outcome::marginal) {
    out.push_back(bad(l.tr("The result lies so close to its limit that the measurement cannot decide.")));
    out.emplace_back(l.tr("Ask for this test to be repeated."));
  } else {
    out.push_back(bad(l.tr(means)));
  }
  return out;
}
}  // namespace hb::sheet
