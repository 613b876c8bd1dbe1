#include "story.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "words.hpp"

namespace hb::sheet {
namespace {
std::string heading(const View& v) {
  if (v.kind == "intake") return "What we measured on your phone when you brought it in";
  if (v.kind == "comeback") return "What we tested on your phone when it came back to us";
  return "What we tested on your phone before giving it back";
}

std::string checks_word(int n) { return n == 1 ? "1 check" : fmt::format("{} checks", n); }

void conclude(const View& v, Story& s) {
  const int total = static_cast<int>(v.checks.size()), failed = v.count(Outcome::fail),
            open = v.count(Outcome::marginal), untested = v.count(Outcome::not_tested),
            waived = v.count(Outcome::waived);
  switch (v.outcome) {
    case Outcome::pass:
      s.headline = "All tests passed.";
      break;
    case Outcome::waived:
      s.headline = "Passed, with something left out as agreed.";
      break;
    case Outcome::not_tested:
      s.headline = "Not complete: something could not be tested.";
      break;
    case Outcome::marginal:
      s.headline = "Needs attention: a result is too close to call.";
      break;
    case Outcome::fail:
      s.headline = "Did not pass: something is not right yet.";
      break;
  }
  std::vector<std::string> parts;
  const int passed = v.count(Outcome::pass);
  if (passed > 0) parts.push_back(fmt::format("{} passed", passed));
  if (failed > 0) parts.push_back(fmt::format("{} did not pass", failed));
  if (open > 0) parts.push_back(fmt::format("{} {} attention", open, open == 1 ? "needs" : "need"));
  if (untested > 0) parts.push_back(fmt::format("{} not tested", untested));
  if (waived > 0) parts.push_back(fmt::format("{} left out as agreed", waived));
  s.detail = total == 0 ? "No checks were made." : fmt::format("{}: {}.", checks_word(total), listed(parts));
}

void facts(const View& v, Story& s) {
  s.facts.push_back({"Phone", v.model.empty() ? "not stated" : v.model, "", "/phone/model"});
  if (!v.tail.empty())
    s.facts.push_back({"Serial number ends in", v.tail, "compare: Settings, About phone", "/phone/tail"});
  if (!v.job.empty())
    s.facts.push_back(
        {"Job", v.job, v.comeback_of.empty() ? v.repair : "follows job " + v.comeback_of, "/job/id"});
  const std::string in = v.opened.empty() ? "" : "brought in " + date(v.opened);
  if (!v.finished.empty())
    s.facts.push_back({"Tested", date(v.finished), in, "/run/finished"});
  else if (!in.empty())
    s.facts.push_back({"Brought in", date(v.opened), "", "/job/opened"});
}

void rows(const View& v, Story& s) {
  for (const auto& c : v.checks) {
    s.rows.push_back({c.customer_title, capitalised(measured(c)), c.outcome});
    const std::string why = c.reason.empty() ? "No reason was recorded." : sentence(c.reason);
    if (c.outcome == Outcome::fail || c.outcome == Outcome::marginal)
      s.attention.push_back({c.customer_title, meaning(c)});
    if (c.outcome == Outcome::not_tested || c.outcome == Outcome::waived)
      s.untested.push_back({c.customer_title, why});
  }
}

void care(const std::string& cure_time, Story& s) {
  s.care = {
      {"Fresh adhesive",
       cure_time.empty()
           ? "It needs time to cure. Ask us for how long, and treat the phone gently until then."
           : fmt::format("Treat the phone gently for {}, until it has cured.", cure_time)},
      {"Water", "A phone that was opened is not promised to keep water out. Keep it dry."},
      {"Heat", "Keep it away from radiators, stoves and cars in the sun."},
      {"Swelling, smoke, smell or unusual heat", "Stop using and charging it, and bring it back to us."},
      {"Battery", "Never press, bend or puncture it."}};
}

/// Says what was read, by the checks that really ran.
std::string privacy(const View& v) {
  struct Read {
    std::string_view check, words;
  };
  static constexpr std::array<Read, 7> reads{
      {{"touch_grid", "touch positions"},
       {"hinge_sweep", "hinge angles"},
       {"batteries", "battery readings"},
       {"wireless_charging", "charging readings"},
       {"cameras", "pictures of a test chart, measured and dropped at once"},
       {"keys", "presses of the side keys"},
       {"motion", "motion sensor readings"}}};
  std::vector<std::string> read{
      "the model and serial number (stored only as a scrambled code and its last characters)"};
  for (const auto& r : reads)
    if (std::any_of(v.checks.begin(), v.checks.end(), [&](const auto& c) {
          return c.id == r.check &&
                 (c.outcome == Outcome::pass || c.outcome == Outcome::marginal || c.outcome == Outcome::fail);
        }))
      read.emplace_back(r.words);
  return fmt::format(
      "We read {}. No photo, message, contact or account was looked at, and nothing was installed.{}",
      listed(read), v.consent ? " You agreed to these tests." : "");
}
}  // namespace

Story tell(const View& v, const std::string& cure_time) {
  Story s;
  s.shop = v.shop.empty() ? "Repair shop" : v.shop;
  s.contact = v.contact;
  s.heading = heading(v);
  if (!v.real_time())
    s.demo_note =
        "Simulated demonstration: time was driven by a fixture. This sheet speaks of no real phone.";
  s.outcome = v.outcome;
  conclude(v, s);
  facts(v, s);
  rows(v, s);
  s.parts = v.parts;
  s.colour = v.colour;
  care(cure_time, s);
  s.privacy = privacy(v);
  s.key = short_key(v.key_id);
  s.checking =
      "This sheet is signed: a changed word shows. The code holds the signed result. Any bench with the "
      "program handback can check the file or the code without a network, by the command";
  s.command = "handback verify";
  s.ask = v.job.empty() ? "Questions? Ask " + s.shop
                        : fmt::format("Questions? Ask {} and name job {}", s.shop, v.job);
  s.ask += v.contact.empty() ? "." : ": " + v.contact;
  return s;
}
}  // namespace hb::sheet
