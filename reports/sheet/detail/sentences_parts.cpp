// Sentences on the charging port, the vibration motor, the radios, the small sensors and the housing.
#include <algorithm>
#include <cmath>

#include "story.hpp"
#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {

Told said_of_port(const CheckView& c, const Language& l) {
  Names dead;
  const auto powered = c.measures("powered");
  for (const auto* v : powered)
    if (v->measure.value < 0.5) dead.push_back(part_words(c, v->measure.part, l));
  if (!dead.empty() && dead.size() == powered.size())
    return {bad(l.tr("Did not charge by cable, either way round."))};
  std::string lost, charged, held;
  if (!dead.empty()) lost = l.fill("did not charge by cable with the plug {0}", listed(dead, l));
  double least = -1;
  for (const auto* v : c.measures("current_ma"))
    least = least < 0 ? v->measure.value : std::min(least, v->measure.value);
  if (dead.empty() && least > 0)
    charged = l.fill("charged by cable at {0}, whichever way round the plug was",
                     l.ltr(l.number(fixed(least / 1000, 1)) + "\u00A0A"));
  if (dead.empty() && proved(c.measures("dropouts")) && proved(c.measures("wiggle_dropouts")))
    held = l.tr("charging did not stop when the plug was moved");
  // Without power there is no data either: that is no second fault.
  return join({bad(lost), charged, held,
               dead.empty() ? worst_values(c, {}, l) : worst_values(c, {"powered", "link_mbit_s"}, l)});
}

Told said_of_vibration(const CheckView& c, const Language& l) {
  double silent = 0, seen = 0;
  for (const auto* v : c.measures("silent_bursts")) silent = v->measure.value;
  for (const auto* v : c.measures("bursts_seen")) seen = v->measure.value;
  if (silent > 0) return {bad(l.tr("The motor was started and was not felt."))};
  std::string felt;
  if (!c.measures("observed_felt").empty())
    felt = l.tr("the technician felt the motor, which is their word and not a measurement");
  else if (seen > 0)
    felt = l.tr("the phone's own motion sensor felt the motor each time");
  return join({felt, worst_values(c, {"silent_bursts"}, l)});
}

Told said_of_radios(const CheckView& c, const Language& l) {
  Names up, down;
  for (const char* q : {"wifi_up", "bluetooth_up", "nfc_up"})
    for (const auto* v : c.measures(q))
      (v->measure.value >= 0.5 ? up : down).push_back(l.ltr(v->measure.part));
  std::string came, gone, heard;
  if (!down.empty())
    gone = l.filln("{1} did not come up", "{1} did not come up", std::ssize(down), listed(down, l));
  if (!up.empty()) came = l.filln("{1} came up", "{1} came up", std::ssize(up), listed(up, l));
  if (proved(c.measures("level_dbm"))) heard = l.tr("our network was heard as strongly as it should be");
  std::string sim, mobile;
  bool lost_sim = false;
  for (const auto* v : c.measures("sim_seen"))
    if (v->outcome == Outcome::fail || v->outcome == Outcome::marginal)
      lost_sim = true, sim = l.tr("a SIM was not read, or was lost in between");
  if (proved(c.measures("sim_seen"))) sim = l.tr("a SIM was read");
  if (proved(c.measures("mobile_level_dbm")))
    mobile = l.tr("the mobile network was heard as strongly as it should be");
  return join({bad(gone),
               came,
               heard,
               {sim, lost_sim},
               mobile,
               worst_values(c, {"wifi_up", "bluetooth_up", "nfc_up", "sim_seen"}, l)});
}

Told said_of_presence(const CheckView& c, const Language& l) {
  Names missing;
  for (const auto* v : c.measures("listed"))
    if (v->measure.value < 0.5) missing.push_back(part_words(c, v->measure.part, l));
  std::string there, gone, light;
  if (!missing.empty()) gone = l.fill("the phone does not list: {0}", listed(missing, l));
  if (proved(c.measures("listed"))) there = l.tr("the phone lists all its small sensors");
  if (proved(c.measures("open_value")) && proved(c.measures("covered_share")))
    light = l.tr("the light sensor sees the room and a finger over it");
  std::string finger;
  bool no_reader = false;
  for (const auto* v : c.measures("fingerprint_readers"))
    if (v->measure.value < 0.5)
      no_reader = true, finger = l.tr("the phone does not list its fingerprint reader");
  if (proved(c.measures("fingerprint_readers"))) finger = l.tr("the phone lists its fingerprint reader");
  return join(
      {bad(gone), there, light, {finger, no_reader}, worst_values(c, {"listed", "fingerprint_readers"}, l)});
}

/// A person's word, and said to be one.
Told said_of_housing(const CheckView& c, const Language& l) {
  Names good;
  if (proved(c.measures("observed_screws_missing"))) good.push_back(l.tr("every screw is in place"));
  if (const auto gaps = c.measures("observed_gap_mm"); proved(gaps)) {
    double widest = 0;
    for (const auto* v : gaps) widest = std::max(widest, v->measure.value);
    good.push_back(l.fill("no gap is wider than {0}", l.ltr(l.number(fixed(widest, 2)) + "\u00A0mm")));
  }
  if (proved(c.measures("observed_seated"))) good.push_back(l.tr("the covers sit flush"));
  if (proved(c.measures("observed_colour_agreed"))) good.push_back(l.tr("the colour is as agreed"));
  if (!c.phone_as_it_came && proved(c.measures("observed_new_adhesive")))
    good.push_back(l.tr("new adhesive was used"));
  std::string seen;
  if (!good.empty()) seen = l.fill("seen by the technician, not measured: {0}", listed(good, l));
  const Piece worst = worst_values(c, {}, l), water{l.tr("keeping water out was not tested"), true};
  return worst.text.empty() ? join({seen, water}) : join({worst, water, seen});
}
}  // namespace hb::sheet
