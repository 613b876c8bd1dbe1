#include <fmt/format.h>

#include <cmath>

#include "../sheet.hpp"
#include "html.hpp"
#include "pictures.hpp"
#include "story.hpp"
#include "styles.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
std::string fact(const char* label, const std::string& value) {
  return value.empty() ? std::string()
                       : fmt::format("<div><dt>{}</dt><dd>{}</dd></div>\n", label, escaped(value));
}

std::string with_unit(const std::string& value, const std::string& unit) {
  return unit.empty() ? value : value + "\u00A0" + unit;
}

std::string value_u(const MeasureView& m) {
  const std::string v = value_text(m.value, m.u), unit = unit_text(m.unit);
  return m.u > 0 ? with_unit(fmt::format("{} \u00B1 {}", v, u_text(m.u)), unit) : with_unit(v, unit);
}

std::string plain(double v) { return fmt::format("{:.6g}", v); }

std::string limit(const VerdictView& v) {
  if (v.lower && v.upper) return fmt::format("{} \u2026 {}", plain(*v.lower), plain(*v.upper));
  if (v.lower) return "\u2265 " + plain(*v.lower);
  if (v.upper) return "\u2264 " + plain(*v.upper);
  return "\u2013";
}

std::string risk(const VerdictView& v) {
  if (!v.outcome || !v.risk) return "\u2013";
  return *v.risk < 0.0001 ? "<\u00A00.01\u00A0%" : significant(*v.risk * 100, 2) + "\u00A0%";
}

std::string verdicts(const CheckView& c) {
  if (c.verdicts.empty()) return "<p class=\"none\">No values were measured.</p>\n";
  std::string t = fmt::format(
      "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Measures of "
      "{}\">\n<table>\n<thead><tr><th scope=\"col\">Measure</th><th scope=\"col\">Part</th>"
      "<th scope=\"col\" class=\"num\">Value &plusmn; u</th><th scope=\"col\" class=\"num\">Limit</th><th "
      "scope=\"col\">Origin</th>"
      "<th scope=\"col\" class=\"num\">Guard band</th><th scope=\"col\" class=\"num\">Risk</th><th "
      "scope=\"col\" class=\"num\">n</th>"
      "<th scope=\"col\">Verdict</th></tr></thead>\n<tbody>\n",
      escaped(c.title));
  for (const auto& v : c.verdicts) {
    const auto dot = v.measure.key.rfind('.');
    const std::string quantity = v.measure.key.substr(dot == std::string::npos ? 0 : dot + 1);
    t += fmt::format(
        "<tr{}><th scope=\"row\">{}</th><td>{}</td><td class=\"num\">{}</td><td "
        "class=\"num\">{}</td><td>{}</td><td class=\"num\">{}</td>"
        "<td class=\"num\">{}</td><td class=\"num\">{}</td><td>{}</td></tr>\n",
        v.outcome && *v.outcome != Outcome::pass ? fmt::format(" class=\"is-{}\"", css_class(*v.outcome))
                                                 : "",
        escaped(quantity), escaped(v.measure.part), escaped(value_u(v.measure)), escaped(limit(v)),
        escaped(v.origin), v.guard_band && v.outcome ? escaped(significant(*v.guard_band, 2)) : "\u2013",
        escaped(risk(v)), v.measure.n > 0 ? count(v.measure.n) : "\u2013",
        v.outcome ? outcome_badge(*v.outcome, std::string(record_word(*v.outcome)))
                  : "<span class=\"none\">no limit</span>");
  }
  return t + "</tbody>\n</table>\n</div>\n";
}

std::string evidence(const FindingView& f) {
  std::string t;
  for (const auto& e : f.evidence)
    t += fmt::format("{}{}{} = {}{}", t.empty() ? "" : "; ", escaped(e.key),
                     e.part.empty() ? "" : " (" + escaped(e.part) + ")", escaped(value_u(e)),
                     e.n > 0 ? fmt::format(", n = {}", e.n) : "");
  return t;
}

std::string findings(const CheckView& c) {
  std::string t;
  for (const auto& f : c.findings) {
    t += fmt::format("<div class=\"find\"><p><b>{}</b>{}</p>", escaped(sentence(f.says)),
                     f.part.empty() ? "" : " (" + escaped(f.part) + ")");
    if (!f.open_again.empty()) t += fmt::format("<p>Open again: <b>{}</b></p>", escaped(f.open_again));
    const std::string e = evidence(f);
    t += fmt::format("<p class=\"ev\">{}{}</p></div>\n", escaped(f.id), e.empty() ? "" : ": " + e);
  }
  return t;
}

std::string figures(const CheckView& c, std::size_t index) {
  View one;
  one.checks.push_back(c);
  const auto list = pictures(one, {420, 250, 9.5}, 16, english());
  if (list.empty()) return {};
  std::string t = "<div class=\"pictures\">\n";
  for (std::size_t i = 0; i < list.size(); ++i)
    t += fmt::format("<figure><figcaption>{}</figcaption>{}</figure>\n", escaped(list[i].caption),
                     svg(list[i].drawing, fmt::format("c{}p{}", index, i), "picture"));
  return t + "</div>\n";
}

std::string one_check(const CheckView& c, std::size_t i) {
  std::string meta =
      c.tries > 0 ? fmt::format("{} {}", c.tries, c.tries == 1 ? "try" : "tries") : std::string();
  if (c.bench_seconds > 0)
    meta += (meta.empty() ? "" : " \u00B7 ") + duration(c.bench_seconds) + " bench time";
  std::string t = fmt::format(
      "<section class=\"card\" aria-labelledby=\"check{0}\">\n<div class=\"title\"><h2 "
      "id=\"check{0}\">{1}</h2>{2}<span class=\"meta\">{3}</span></div>\n",
      i, escaped(c.title), outcome_badge(c.outcome, std::string(record_word(c.outcome))), escaped(meta));
  if (!c.taken_run.empty())
    t += fmt::format("<p>Taken from run {}, {}.</p>\n", escaped(c.taken_run),
                     escaped(date_time(c.taken_at, english())));
  if (!c.reason.empty()) t += fmt::format("<p>{}</p>\n", escaped(sentence(c.reason)));
  return t + findings(c) + verdicts(c) + figures(c, i) + "</section>\n";
}

std::string facts(const View& v) {
  std::string parts = v.is_erased("parts") ? "erased" : "", waivers, opened;
  for (const auto& p : v.parts)
    parts += (parts.empty() ? "" : "; ") + (p.erased ? "erased" : p.name) +
             (p.lot.empty() ? "" : ", lot " + p.lot);
  for (const auto& w : v.waivers)
    waivers += (waivers.empty() ? "" : "; ") + w.check + (w.reason.empty() ? "" : ": " + w.reason);
  for (const auto& o : v.reopened) opened += (opened.empty() ? "" : ", ") + o;
  const auto kept = [&](const char* member, const std::string& text) {
    return v.is_erased(member) ? std::string("erased") : text;
  };
  std::string t = "<section class=\"card\" aria-label=\"Job and run\">\n<dl class=\"facts\">\n";
  t += fact("Model", v.model) + fact("Phone tag", v.tag) + fact("Serial ends in", v.tail) +
       fact("Run", v.run_id) + fact("Kind", v.kind);
  t += fact("Started", date_time(v.started, english())) + fact("Finished", date_time(v.finished, english())) +
       fact("Bench time", v.bench_seconds > 0 ? duration(v.bench_seconds) : "");
  t += fact("Clock", v.clock) + fact("Link", v.link) + fact("Software", v.software) +
       fact("Profile SHA-256", v.profile_sha256);
  t += fact("Job opened", date_time(v.opened, english())) + fact("Reported fault", kept("fault", v.fault)) +
       fact("Repair", kept("repair", v.repair)) + fact("Parts fitted", parts);
  t += fact("Colour agreed", kept("colour", v.colour)) + fact("Consent to tests", v.consent ? "yes" : "no") +
       fact("Adhesive cures", v.cure_hours ? plain(*v.cure_hours) + " h" : "") +
       fact("Comeback of", v.comeback_of) + fact("Left out by the customer's agreement", waivers) +
       fact("Another phone than the job's", v.other_phone) + fact("Adds to run", v.follows_run) +
       fact("Opened again since", opened);
  t += fact("Shop", v.shop) + fact("Bench", v.bench) + fact("Contact", v.contact) + fact("Key", v.key_id);
  return t + "</dl>\n</section>\n";
}
}  // namespace

Result<std::string> shop_html(const nlohmann::json& record, const Standing& standing) {
  const auto view = read(record);
  if (!view) return view.error();
  const View& v = *view;
  const std::string title = v.job.empty() ? "Shop record" : "Shop record of job " + v.job;
  std::string body =
      fmt::format("<header>\n<p class=\"over\">{}</p>\n<h1>{}</h1>\n<p>{}</p>\n", escaped(v.shop),
                  escaped(title), outcome_badge(v.outcome, std::string(record_word(v.outcome))));
  if (!standing.withdrawn.empty())
    body += fmt::format("<p class=\"withdrawn\" role=\"alert\">WITHDRAWN{}: {}</p>\n",
                        standing.withdrawn_on.empty()
                            ? ""
                            : " on " + escaped(date_time(shown(standing.withdrawn_on, 40), english())),
                        escaped(shown(standing.withdrawn, 120)));
  if (v.clock_back_s > 0)
    body += fmt::format(
        "<p class=\"demo\" role=\"note\">The clock ran backwards by {} within this run: its times "
        "cannot be relied on.</p>\n",
        escaped(duration(v.clock_back_s)));
  if (!v.real_time())
    body += "<p class=\"demo\" role=\"note\">Simulated demonstration: time was driven by a fixture.</p>\n";
  body += "</header>\n<main>\n" + facts(v);
  for (std::size_t i = 0; i < v.checks.size(); ++i) body += one_check(v.checks[i], i);
  if (v.checks.empty()) body += "<p class=\"card\">No checks were made.</p>\n";
  body +=
      "</main>\n<footer>\n<p>u: standard uncertainty (k = 1). Guard band 1.645 u on each limit; risk: "
      "probability that the true value is "
      "outside although accepted (JCGM 106:2012).</p>\n</footer>\n";
  return document(title, std::string(kCommonCss) + std::string(kShopCss), body, english());
}
}  // namespace hb::sheet
