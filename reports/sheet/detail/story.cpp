#include "story.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
std::string heading(const View& v, const Language& l) {
  if (v.kind == "intake") return l.tr("How your phone was when you brought it in");
  if (v.kind == "comeback") return l.tr("How your phone was when it came back to us");
  return l.tr("What we tested on your phone before giving it back");
}

std::string headline(const View& v, const Language& l) {
  const bool came = v.as_it_came();
  switch (v.outcome) {
    case Outcome::pass:
      return came ? l.tr("Everything that we tested worked.") : l.tr("All tests passed.");
    case Outcome::waived:
      return came ? l.tr("What we tested worked; something was left out as agreed.")
                  : l.tr("Passed, with something left out as agreed.");
    case Outcome::not_tested:
      if (v.count(Outcome::not_tested) == 0 && v.count(Outcome::waived) > 0)
        return l.tr("Not complete: something important was left out as agreed.");
      return l.tr("Not complete: something could not be tested.");
    case Outcome::marginal:
      return l.tr("Needs attention: a result is too close to call.");
    case Outcome::fail:
      break;
  }
  return came ? l.tr("Something did not work as it should.")
              : l.tr("Did not pass: something is not right yet.");
}

void conclude(const View& v, Story& s, const Language& l) {
  s.headline = headline(v, l);
  std::vector<std::string> parts;
  const auto some = [&](Outcome o, const char* one, const char* many) {
    if (const int n = v.count(o); n > 0) parts.push_back(l.filln(one, many, n));
  };
  some(Outcome::pass, HB_MANY("{0} passed", "{0} passed"));
  some(Outcome::fail, HB_MANY("{0} did not pass", "{0} did not pass"));
  some(Outcome::marginal, HB_MANY("{0} needs attention", "{0} need attention"));
  some(Outcome::not_tested, HB_MANY("{0} not tested", "{0} not tested"));
  some(Outcome::waived, HB_MANY("{0} left out as agreed", "{0} left out as agreed"));
  s.detail = v.checks.empty() ? l.tr("No checks were made.")
                              : l.fill("{0}: {1}.", l.filln("{0} check", "{0} checks", std::ssize(v.checks)),
                                       listed(parts, l));
}

void facts(const View& v, Story& s, const Language& l) {
  s.facts.push_back(
      {l.tr("Phone"), v.model.empty() ? l.tr("not stated") : l.isolated(v.model), "", "/phone/model"});
  if (!v.tail.empty())
    s.facts.push_back({l.tr("Serial number ends in"), l.ltr(v.tail), l.tr("compare: Settings, About phone"),
                       "/phone/tail"});
  if (!v.job.empty())
    s.facts.push_back({l.tr("Job"), l.ltr(v.job),
                       !v.comeback_of.empty()  ? l.fill("follows job {0}", l.ltr(v.comeback_of))
                       : v.as_it_came()        ? std::string()
                       : v.is_erased("repair") ? l.tr("kind of repair erased")
                                               : l.of_shop("repair", v.repair),
                       "/job/id"});
  const std::string in = v.opened.empty() ? "" : l.fill("brought in {0}", date(v.opened, l));
  if (!v.finished.empty())
    s.facts.push_back({l.tr("Tested"), date(v.finished, l), in, "/run/finished"});
  else if (!in.empty())
    s.facts.push_back({l.tr("Brought in"), date(v.opened, l), "", "/job/opened"});
}

void rows(const View& v, Story& s, const Language& l) {
  for (const auto& c : v.checks) {
    const std::string title = l.of_record(c.customer_title);
    s.rows.push_back({title, measured(c, l), c.outcome});
    if (c.outcome == Outcome::fail || c.outcome == Outcome::marginal)
      s.attention.push_back({title, meaning(c, l)});
    if (c.outcome == Outcome::not_tested || c.outcome == Outcome::waived)
      s.untested.push_back({title, {why_untested(c, l)}});
  }
}

/// What the owner should know of the run as a whole.
void notes(const View& v, Story& s, const Language& l) {
  if (!v.other_phone.empty())
    s.notes.push_back(l.fill("This is not the phone that the job began with, for this reason: {0}.",
                             l.of_shop("word", v.other_phone)));
  if (!v.follows_run.empty()) {
    std::vector<std::string> opened;
    for (const auto& part : v.reopened) opened.push_back(l.of_shop("word", part));
    if (opened.empty())
      s.notes.push_back(
          l.tr("This sheet adds to an earlier one of the same job: results that still hold are "
               "taken from there, with their date."));
    else
      s.notes.push_back(
          l.fill("This sheet adds to an earlier one of the same job. Between the two was opened "
                 "again: {0}. Results that still hold are taken from there, with their date.",
                 listed(opened, l)));
  }
}

/// The record's hours; else the shop's words.
std::string curing(const View& v, const std::string& cure_time, const Language& l) {
  if (v.cure_hours && *v.cure_hours > 0)
    return l.filln("Treat the phone gently for {1} hour, until it has cured.",
                   "Treat the phone gently for {1} hours, until it has cured.",
                   static_cast<std::int64_t>(std::ceil(std::min(*v.cure_hours, 1e6))),
                   l.ltr(l.number(fmt::format("{:.3g}", *v.cure_hours))));
  if (!cure_time.empty())
    return l.fill("Treat the phone gently for {0}, until it has cured.", l.isolated(cure_time));
  return l.tr("It needs time to cure. Ask us for how long, and treat the phone gently until then.");
}

void care(const View& v, const std::string& cure_time, Story& s, const Language& l) {
  const Remark danger{l.tr("Swelling, smoke, smell or unusual heat"),
                      {l.tr("Stop using and charging it, and bring it back to us.")}};
  if (v.as_it_came()) {
    s.care_title = l.tr("Please note");
    s.care = {{l.tr("What this sheet is for"),
               {l.tr("It says how the phone was before we opened it."),
                v.kind == "intake" ? l.tr("Keep it and compare it with the sheet that you get at the end.")
                                   : l.tr("Keep it and compare it with the sheet of the first time.")}},
              {l.tr("Your data"), {l.tr("Any repair can fail: keep a copy of what matters to you.")}},
              {l.tr("Water"), {l.tr("Whether the phone keeps water out was not tested.")}},
              danger};
    return;
  }
  s.care_title = l.tr("Please take care");
  s.care = {{l.tr("Fresh adhesive"), {curing(v, cure_time, l)}},
            {l.tr("Water"),
             {l.tr("A phone that was opened is not promised to keep water out."), l.tr("Keep it dry.")}},
            {l.tr("Heat"), {l.tr("Keep it away from radiators, stoves and cars in the sun.")}},
            danger,
            {l.trc("care", "Battery"), {l.tr("Never press, bend or puncture it.")}}};
}

/// What was agreed and fitted; of a phone as it came, what is to be done.
void agreed(const View& v, Story& s, const Language& l) {
  const auto fact = [&](const char* label, const char* sense, const std::string& value, const char* member) {
    const bool gone = v.is_erased(member);
    if (gone || !value.empty())
      s.agreed.push_back(
          {l.tr(label), gone ? l.tr("erased") : l.of_shop(sense, value), "", std::string("/job/") + member});
  };
  if (v.as_it_came()) {
    s.agreed_title = l.tr("What you told us, and what is to be done");
    fact(HB_TEXT("You told us: {0}"), "fault", v.fault, "fault");
    fact(HB_TEXT("To be done: {0}"), "repair", v.repair, "repair");
  } else {
    s.agreed_title = l.tr("Parts fitted");
    for (const auto& p : v.parts)
      s.parts.push_back({p.erased ? l.tr("erased") : l.of_shop("fitted", p.name), p.lot, p.erased});
    if (v.is_erased("parts")) s.parts.push_back({l.tr("erased"), "", true});
  }
  fact(HB_TEXT("Colour agreed: {0}"), "colour", v.colour, "colour");
}

/// Says what was read, by the checks that really ran; in short sentences.
std::vector<std::string> privacy(const View& v, const Language& l) {
  const auto ran = [&](std::string_view id) {
    return std::any_of(v.checks.begin(), v.checks.end(), [&](const auto& c) {
      return c.id == id &&
             (c.outcome == Outcome::pass || c.outcome == Outcome::marginal || c.outcome == Outcome::fail);
    });
  };
  struct Read {
    std::string_view check;
    const char* words;
  };
  static constexpr Read reads[] = {{"touch_grid", HB_TEXT("touch positions")},
                                   {"hinge_sweep", HB_TEXT("hinge angles")},
                                   {"batteries", HB_TEXT("battery readings")},
                                   {"wireless_charging", HB_TEXT("charging readings")},
                                   {"wired_port", HB_TEXT("readings of the charging port")},
                                   {"panel", HB_TEXT("marks that the technician set on the screens")},
                                   {"keys", HB_TEXT("presses of the side keys")},
                                   {"motion", HB_TEXT("motion sensor readings")},
                                   {"vibration", HB_TEXT("shaking while the phone vibrated")},
                                   {"presence", HB_TEXT("light readings and the list of small sensors")}};
  std::vector<std::string> list;
  for (const auto& r : reads)
    if (ran(r.check)) list.push_back(l.tr(r.words));
  std::vector<std::string> s;
  if (!list.empty()) s.push_back(l.fill("We read {0}.", listed(list, l)));
  if (ran("radios"))
    s.push_back(l.tr(
        "Of the radios we read whether they are up, whether a SIM is read and how strong networks are, no "
        "names."));
  if (ran("cameras")) s.push_back(l.tr("Pictures of a test chart were measured and dropped at once."));
  if (ran("sound")) s.push_back(l.tr("Recordings of a test tone were measured and dropped at once."));
  s.push_back(l.tr("Of the serial number we keep a scrambled code and its last characters."));
  s.push_back(l.tr("No photo, message, contact or account was looked at."));
  s.push_back(l.tr("Nothing was installed."));
  if (v.consent) s.push_back(l.tr("You agreed to these tests."));
  return s;
}

std::string ask(const View& v, const std::string& shop, const std::string& contact, const Language& l) {
  const std::string who = l.isolated(shop), job = l.ltr(v.job), where = l.isolated(contact);
  if (v.job.empty())
    return where.empty() ? l.fill("Questions? Ask {0}.", who) : l.fill("Questions? Ask {0}: {1}", who, where);
  return where.empty() ? l.fill("Questions? Ask {0} and name job {1}.", who, job)
                       : l.fill("Questions? Ask {0} and name job {1}: {2}", who, job, where);
}
}  // namespace

std::string why_untested(const CheckView& c, const Language& l) {
  if (c.reason.empty()) return l.tr("No reason was recorded.");
  // Two reasons end in a name of the program's own.
  constexpr std::string_view no_measure = "a measure that the profile limits could not be taken: ",
                             not_offered = "this phone does not offer ";
  if (c.reason.starts_with(no_measure))
    return sentence(l.fill("one of the values could not be measured: {0}",
                           quantity_words(c.reason.substr(no_measure.size()), l)));
  if (c.reason.starts_with(not_offered)) return l.tr("The phone does not offer what this test needs.");
  // Reasons that speak to the technician, in words for the owner.
  struct Plain {
    std::string_view reason;
    const char* words;
  };
  static constexpr Plain plain[] = {
      {"the link is by the cable that this check has to unplug: run over TCP",
       HB_TEXT("The phone was tested through its cable, which this test has to unplug.")},
      {"the link is by cable, and a phone with a cable in does not charge from the pad: run over TCP",
       HB_TEXT(
           "The phone was tested through its cable, and with a cable in it does not charge without one.")}};
  for (const auto& p : plain)
    if (p.reason == c.reason) return l.tr(p.words);
  const std::string found = l.of_record(c.reason);
  if (l.code() == "en" || found != l.isolated(c.reason)) return sentence(found);
  return l.fill("The program's own words: {0}", sentence(found));
}

Story tell(const View& v, const std::string& cure_time, const Standing& standing, const Language& l) {
  Story s;
  s.shop = v.shop.empty() ? l.tr("Repair shop") : v.shop;
  s.contact = v.contact;
  s.heading = heading(v, l);
  if (!standing.withdrawn.empty()) {
    const std::string why = l.of_record(shown(standing.withdrawn, 120)), on = date(standing.withdrawn_on, l);
    s.withdrawn = on.empty()
                      ? l.fill("WITHDRAWN by the shop: {0}. Do not rely on this sheet.", why)
                      : l.fill("WITHDRAWN by the shop on {1}: {0}. Do not rely on this sheet.", why, on);
  }
  if (!v.real_time())
    s.demo_note =
        l.tr("Simulated demonstration: time was driven by a fixture. This sheet speaks of no real phone.");
  s.outcome = v.outcome;
  conclude(v, s, l);
  if (!s.withdrawn.empty()) {
    s.outcome = Outcome::not_tested;
    s.headline = l.tr("This sheet no longer holds.");
  }
  facts(v, s, l);
  notes(v, s, l);
  rows(v, s, l);
  agreed(v, s, l);
  care(v, cure_time, s, l);
  s.privacy = privacy(v, l);
  s.key = short_key(v.key_id);
  s.checking = l.tr(
      "This sheet is signed: a changed word shows. Open the file sheet.html in a browser: it checks itself, "
      "without a network. Then compare the shop's key below with the one that the shop shows.");
  s.program = l.tr("The program handback checks the file, or the code from a photo:");
  s.command = "handback verify";
  s.ask = ask(v, s.shop, v.contact, l);
  s.ask_short = ask(v, shown(s.shop, 40), "", l);
  s.more = l.tr("The shop has the measured details and can tell you what happens next.");
  return s;
}
}  // namespace hb::sheet
