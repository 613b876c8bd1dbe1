#include "story.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "words.hpp"

namespace hb::sheet {
namespace {
std::string heading(const View& v, const Language& l) {
  if (v.kind == "intake") return l.tr("What we measured on your phone when you brought it in");
  if (v.kind == "comeback") return l.tr("What we tested on your phone when it came back to us");
  return l.tr("What we tested on your phone before giving it back");
}

std::string headline(Outcome o, const Language& l) {
  switch (o) {
    case Outcome::pass:
      return l.tr("All tests passed.");
    case Outcome::waived:
      return l.tr("Passed, with something left out as agreed.");
    case Outcome::not_tested:
      return l.tr("Not complete: something could not be tested.");
    case Outcome::marginal:
      return l.tr("Needs attention: a result is too close to call.");
    case Outcome::fail:
      break;
  }
  return l.tr("Did not pass: something is not right yet.");
}

void conclude(const View& v, Story& s, const Language& l) {
  s.headline = headline(v.outcome, l);
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
    s.facts.push_back(
        {l.tr("Job"), l.ltr(v.job),
         v.comeback_of.empty() ? l.of_record(v.repair) : l.fill("follows job {0}", l.ltr(v.comeback_of)),
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
    s.rows.push_back({title, capitalised(measured(c, l)), c.outcome});
    const std::string why =
        c.reason.empty() ? l.tr("No reason was recorded.") : sentence(l.of_record(c.reason));
    if (c.outcome == Outcome::fail || c.outcome == Outcome::marginal)
      s.attention.push_back({title, meaning(c, l)});
    if (c.outcome == Outcome::not_tested || c.outcome == Outcome::waived) s.untested.push_back({title, why});
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
  s.care = {{l.tr("Fresh adhesive"), curing(v, cure_time, l)},
            {l.tr("Water"), l.tr("A phone that was opened is not promised to keep water out. Keep it dry.")},
            {l.tr("Heat"), l.tr("Keep it away from radiators, stoves and cars in the sun.")},
            {l.tr("Swelling, smoke, smell or unusual heat"),
             l.tr("Stop using and charging it, and bring it back to us.")},
            {l.trc("care", "Battery"), l.tr("Never press, bend or puncture it.")}};
}

/// Says what was read, by the checks that really ran.
std::string privacy(const View& v, const Language& l) {
  struct Read {
    std::string_view check;
    const char* words;
  };
  static constexpr std::array<Read, 13> reads{
      {{"touch_grid", HB_TEXT("touch positions")},
       {"hinge_sweep", HB_TEXT("hinge angles")},
       {"batteries", HB_TEXT("battery readings")},
       {"wireless_charging", HB_TEXT("charging readings")},
       {"cameras", HB_TEXT("pictures of a test chart, measured and dropped at once")},
       {"panel", HB_TEXT("where the technician marked faults on the screens")},
       {"sound", HB_TEXT("recordings of a test tone, measured and dropped at once")},
       {"keys", HB_TEXT("presses of the side keys")},
       {"motion", HB_TEXT("motion sensor readings")},
       {"wired_port", HB_TEXT("readings of the charging port")},
       {"vibration", HB_TEXT("motion sensor readings while the phone vibrated")},
       {"radios", HB_TEXT("whether the radios are up, a SIM is read and networks are strong (no names)")},
       {"presence", HB_TEXT("light readings and the list of small sensors")}}};
  std::vector<std::string> read{
      l.tr("the model and serial number (stored only as a scrambled code and its last characters)")};
  for (const auto& r : reads)
    if (std::any_of(v.checks.begin(), v.checks.end(), [&](const auto& c) {
          return c.id == r.check &&
                 (c.outcome == Outcome::pass || c.outcome == Outcome::marginal || c.outcome == Outcome::fail);
        }))
      read.emplace_back(l.tr(r.words));
  std::string s =
      l.fill("We read {0}. No photo, message, contact or account was looked at, and nothing was installed.",
             listed(read, l));
  return v.consent ? s + " " + l.tr("You agreed to these tests.") : s;
}

std::string ask(const View& v, const std::string& shop, const Language& l) {
  const std::string who = l.isolated(shop), job = l.ltr(v.job), where = l.isolated(v.contact);
  if (v.job.empty())
    return where.empty() ? l.fill("Questions? Ask {0}.", who) : l.fill("Questions? Ask {0}: {1}", who, where);
  return where.empty() ? l.fill("Questions? Ask {0} and name job {1}.", who, job)
                       : l.fill("Questions? Ask {0} and name job {1}: {2}", who, job, where);
}
}  // namespace

Story tell(const View& v, const std::string& cure_time, const Language& l) {
  Story s;
  s.shop = v.shop.empty() ? l.tr("Repair shop") : v.shop;
  s.contact = v.contact;
  s.heading = heading(v, l);
  if (!v.real_time())
    s.demo_note =
        l.tr("Simulated demonstration: time was driven by a fixture. This sheet speaks of no real phone.");
  s.outcome = v.outcome;
  conclude(v, s, l);
  facts(v, s, l);
  rows(v, s, l);
  s.parts = v.parts;
  s.colour = v.colour;
  care(v, cure_time, s, l);
  s.privacy = privacy(v, l);
  s.key = short_key(v.key_id);
  s.checking = l.tr(
      "This sheet is signed: a changed word shows. The code holds the signed result. Any bench with the "
      "program handback can check the file or the code without a network, by the command");
  s.command = "handback verify";
  s.ask = ask(v, s.shop, l);
  s.more = l.tr("The shop has the measured details and can tell you what happens next.");
  return s;
}
}  // namespace hb::sheet
