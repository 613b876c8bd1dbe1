#include <fmt/format.h>

#include "html.hpp"
#include "inputs.hpp"
#include "pictures.hpp"
#include "self_check.hpp"
#include "story.hpp"
#include "styles.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
/// An element that shows one member of the record, so that the page's own check can name what differs.
std::string shows(std::string_view tag, std::string_view pointer, std::string_view text) {
  if (pointer.empty()) return escaped(text);
  const bool time = pointer == "/run/finished" || pointer == "/job/opened";
  return fmt::format("<{0} data-pointer=\"{1}\"{2}>{3}</{0}>", tag, pointer, time ? " data-as=\"date\"" : "",
                     escaped(text));
}

std::string header(const Story& s, const Language& l) {
  std::string h = fmt::format("<header>\n<p class=\"shop\">{} {}</p>\n",
                              shows("strong", "/bench/shop", l.isolated(s.shop)),
                              shows("span", "/bench/contact", l.isolated(s.contact)));
  if (!s.withdrawn.empty())
    h += fmt::format("<p class=\"withdrawn\" role=\"alert\">{}</p>\n", escaped(s.withdrawn));
  if (!s.demo_note.empty())
    h += fmt::format("<p class=\"demo\" role=\"note\">{}</p>\n", escaped(s.demo_note));
  h += fmt::format("<h1>{}</h1>\n<dl class=\"facts\">\n", escaped(s.heading));
  for (const auto& f : s.facts)
    h += fmt::format("<div><dt>{}</dt><dd>{}{}</dd></div>\n", escaped(f.label),
                     shows("span", f.pointer, f.value),
                     f.note.empty() ? "" : "<small>" + escaped(f.note) + "</small>");
  return h + "</dl>\n</header>\n";
}

std::string verdict(const Story& s, const Language& l) {
  return fmt::format(
      "<section class=\"verdict {}\" "
      "aria-label=\"{}\">{}<div><strong>{}</strong><p>{}</p></div></section>\n",
      css_class(s.outcome), escaped(l.tr("Result")), svg(outcome_mark(s.outcome, 48), "overall", "mark"),
      escaped(s.headline), escaped(s.detail));
}

std::string notes(const Story& s) {
  std::string t;
  for (const auto& n : s.notes) t += fmt::format("<p class=\"note\">{}</p>\n", escaped(n));
  return t;
}

std::string section(std::string_view css, std::string_view id, const std::string& title) {
  return fmt::format("<section{} aria-labelledby=\"{}\">\n<h2 id=\"{}\">{}</h2>\n",
                     css.empty() ? "" : fmt::format(" class=\"{}\"", css), id, id, escaped(title));
}

std::string table(const Story& s, const Language& l) {
  std::string t = section("", "h-results", l.tr("What was tested")) +
                  fmt::format(
                      "<table>\n<thead><tr><th scope=\"col\">{}</th><th scope=\"col\">{}</th>"
                      "<th scope=\"col\">{}</th></tr></thead>\n<tbody>\n",
                      escaped(l.tr("What")), escaped(l.tr("Result")), escaped(l.tr("What was measured")));
  for (std::size_t i = 0; i < s.rows.size(); ++i) {
    const Row& r = s.rows[i];
    t += fmt::format(
        "<tr class=\"is-{0}\"><th scope=\"row\" data-pointer=\"/checks/{1}/customer_title\">{2}</th>"
        "<td data-pointer=\"/checks/{1}/outcome\" data-as=\"outcome\">{3}</td><td>{4}</td></tr>\n",
        css_class(r.outcome), i, escaped(r.title), outcome_badge(r.outcome, word(r.outcome, l)),
        escaped(said(r.says)));
  }
  return t + "</tbody>\n</table>\n</section>\n";
}

std::string remarks(const char* id, const std::string& title, const std::vector<Remark>& list,
                    const std::string& last, const Language& l) {
  if (list.empty()) return {};
  std::string t = section("says", id, title) + "<ul>\n";
  for (const auto& r : list)
    t += fmt::format("<li><b>{}</b> {}</li>\n", escaped(l.fill("{0}:", r.title)), escaped(said(r.says)));
  t += "</ul>\n";
  if (!last.empty()) t += fmt::format("<p>{}</p>\n", escaped(last));
  return t + "</section>\n";
}

std::string agreed(const Story& s, const Language& l) {
  if (s.parts.empty() && s.agreed.empty()) return {};
  std::string t = section("parts", "h-parts", s.agreed_title) + "<ul>\n";
  for (std::size_t i = 0; i < s.parts.size(); ++i) {
    const PartView& p = s.parts[i];
    if (p.erased) {
      t += fmt::format("<li>{}</li>\n", escaped(p.name));
      continue;
    }
    const std::string lot = p.lot.empty()
                                ? escaped(l.tr("lot not stated"))
                                : l.fill("lot {0}", shows("bdi", fmt::format("/job/parts/{}/lot", i), p.lot));
    t += fmt::format("<li>{}</li>\n",
                     l.fill("{0}, {1}", shows("b", fmt::format("/job/parts/{}/name", i), p.name), lot));
  }
  for (const auto& f : s.agreed) {
    const std::string value = shows("b", f.pointer, f.value);
    t += fmt::format("<li>{}</li>\n", fmt::vformat(f.label, fmt::make_format_args(value)));
  }
  return t + "</ul>\n</section>\n";
}

std::string figures(const View& view, const Language& l) {
  const auto list = pictures(view, {165, 124, 8}, 12, l);
  if (list.empty()) return {};
  std::string t =
      section("", "h-pictures", l.tr("Drawn from the measured values")) + "<div class=\"pictures\">\n";
  for (std::size_t i = 0; i < list.size(); ++i)
    t += fmt::format("<figure{}><figcaption>{}</figcaption>{}</figure>\n",
                     i < 3 ? "" : " class=\"more-pictures\"", escaped(list[i].caption),
                     svg(list[i].drawing, fmt::format("picture{}", i), "picture"));
  return t + "</div>\n</section>\n";
}

std::string closing(const Story& s, const Drawing& qr, const Language& l) {
  std::string t = "<div class=\"two\">\n<div>\n" + section("says", "h-care", s.care_title) + "<ul>\n";
  for (const auto& c : s.care)
    t += fmt::format("<li><b>{}.</b> {}</li>\n", escaped(c.title), escaped(said(c.says)));
  t += "</ul>\n</section>\n</div>\n<div>\n" + section("privacy", "h-privacy", l.tr("Your privacy"));
  for (const auto& sentence : s.privacy) t += fmt::format("<p>{}</p>\n", escaped(sentence));
  t += "</section>\n</div>\n<div class=\"proof\">\n" + section("check", "h-check", l.tr("Check this sheet")) +
       fmt::format("<div><p>{}</p>", escaped(s.checking));
  if (!s.key.empty())
    t += fmt::format("\n<p class=\"key\">{} <b>{}</b></p>", escaped(l.tr("The shop's key:")), escaped(s.key));
  t += fmt::format("\n<p>{} <code>{}</code></p>", escaped(s.program), escaped(s.command));
  return t + "</div>\n" + svg(qr, "qr", "qr") + "\n</section>\n</div>\n</div>\n";
}

/// What a browser neither shows nor runs, and the one script that runs.
std::string carried(const SheetInputs& in, const View& view, const Language& l) {
  std::string t = fmt::format(
      "<script type=\"application/jose\" id=\"record\">handback-record:[{}]</script>\n", in.record_jws);
  if (!in.certificates.empty())
    t += fmt::format("<script type=\"application/jwt\" id=\"certificates\">{}</script>\n", in.certificates);
  t += fmt::format("<script type=\"application/jose\" id=\"seal\">{}</script>\n", in.seal_slot);
  if (in.key_jwk.empty()) return t;
  return t + fmt::format(
                 "<script type=\"application/jwk+json\" id=\"key\">{}</script>\n<script "
                 "type=\"application/json\" id=\"words\">{}</script>\n<script>{}</script>\n",
                 in.key_jwk, self_check_words(view, l), self_check_content());
}
}  // namespace

Result<std::string> customer_html(const nlohmann::json& record, const SheetInputs& inputs) {
  if (auto ok = check(inputs); !ok) return ok.error();
  const auto language = Language::named(inputs.language);
  if (!language) return language.error();
  const Language& l = *language;
  const auto view = read(record);
  if (!view) return view.error();
  const auto qr = qr_code(inputs.qr_text, 160, l);
  if (!qr) return qr.error();
  const Story s = tell(*view, shown(inputs.cure_time, 60), inputs.standing, l);
  const bool checks_itself = !inputs.key_jwk.empty();
  std::string body = header(s, l) + "<main>\n" + verdict(s, l) + notes(s) + table(s, l);
  body += remarks("h-means", l.tr("What this means"), s.attention, s.more, l);
  body += remarks("h-untested", l.tr("What could not be tested, and why"), s.untested, "", l);
  body += agreed(s, l) + figures(*view, l) + closing(s, *qr, l);
  if (checks_itself) body += self_check_section(l);
  body += fmt::format("</main>\n<footer>\n<p class=\"ask\">{}</p>\n</footer>\n", escaped(s.ask));
  body += carried(inputs, *view, l);
  // Printed, a page with many checks is set closer; with remarks too, it leaves its pictures to the screen.
  const bool many = s.rows.size() > 8, remarked = !s.attention.empty() || !s.untested.empty();
  const char* crowd = many && remarked ? "many full" : many ? "many" : "";
  return document(s.heading, std::string(kCommonCss) + std::string(kCustomerCss), body, l,
                  checks_itself ? self_check_source() : std::string(), crowd);
}
}  // namespace hb::sheet
