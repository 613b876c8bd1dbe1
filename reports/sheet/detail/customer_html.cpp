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

std::string header(const Story& s) {
  std::string h =
      fmt::format("<header>\n<p class=\"shop\">{} {}</p>\n", shows("strong", "/bench/shop", s.shop),
                  shows("span", "/bench/contact", s.contact));
  if (!s.demo_note.empty())
    h += fmt::format("<p class=\"demo\" role=\"note\">{}</p>\n", escaped(s.demo_note));
  h += fmt::format("<h1>{}</h1>\n<dl class=\"facts\">\n", escaped(s.heading));
  for (const auto& f : s.facts)
    h += fmt::format("<div><dt>{}</dt><dd>{}{}</dd></div>\n", escaped(f.label),
                     shows("span", f.pointer, f.value),
                     f.note.empty() ? "" : "<small>" + escaped(f.note) + "</small>");
  return h + "</dl>\n</header>\n";
}

std::string verdict(const Story& s) {
  Drawing mark = outcome_mark(s.outcome, 48);
  return fmt::format(
      "<section class=\"verdict {}\" "
      "aria-label=\"Result\">{}<div><strong>{}</strong><p>{}</p></div></section>\n",
      css_class(s.outcome), svg(mark, "overall", "mark"), escaped(s.headline), escaped(s.detail));
}

std::string table(const Story& s) {
  std::string t =
      "<section aria-labelledby=\"h-results\">\n<h2 id=\"h-results\">What was "
      "tested</h2>\n<table>\n<thead><tr><th scope=\"col\">What</th>"
      "<th scope=\"col\">Result</th><th scope=\"col\">What was measured</th></tr></thead>\n<tbody>\n";
  for (std::size_t i = 0; i < s.rows.size(); ++i) {
    const Row& r = s.rows[i];
    t += fmt::format(
        "<tr class=\"is-{0}\"><th scope=\"row\" data-pointer=\"/checks/{1}/customer_title\">{2}</th>"
        "<td data-pointer=\"/checks/{1}/outcome\" data-as=\"outcome\">{3}</td><td>{4}</td></tr>\n",
        css_class(r.outcome), i, escaped(r.title), outcome_badge(r.outcome, std::string(word(r.outcome))),
        escaped(r.says));
  }
  return t + "</tbody>\n</table>\n</section>\n";
}

std::string remarks(const char* id, const char* title, const std::vector<Remark>& list, const char* last) {
  if (list.empty()) return {};
  std::string t = fmt::format(
      "<section class=\"says\" aria-labelledby=\"{0}\">\n<h2 id=\"{0}\">{1}</h2>\n<ul>\n", id, title);
  for (const auto& r : list) t += fmt::format("<li><b>{}:</b> {}</li>\n", escaped(r.title), escaped(r.says));
  t += "</ul>\n";
  if (*last) t += fmt::format("<p>{}</p>\n", last);
  return t + "</section>\n";
}

std::string parts(const Story& s) {
  if (s.parts.empty() && s.colour.empty()) return {};
  std::string t =
      "<section class=\"parts\" aria-labelledby=\"h-parts\">\n<h2 id=\"h-parts\">Parts fitted</h2>\n<ul>\n";
  for (std::size_t i = 0; i < s.parts.size(); ++i) {
    const PartView& p = s.parts[i];
    t +=
        fmt::format("<li>{}, lot {}</li>\n", shows("b", fmt::format("/job/parts/{}/name", i), p.name),
                    p.lot.empty() ? "not stated" : shows("span", fmt::format("/job/parts/{}/lot", i), p.lot));
  }
  if (!s.colour.empty())
    t += fmt::format("<li>Colour agreed: {}</li>\n", shows("b", "/job/colour", s.colour));
  return t + "</ul>\n</section>\n";
}

std::string figures(const View& view) {
  const auto list = pictures(view, {200, 150, 8}, 12);
  if (list.empty()) return {};
  std::string t =
      "<section aria-labelledby=\"h-pictures\">\n<h2 id=\"h-pictures\">Drawn from the measured "
      "values</h2>\n<div class=\"pictures\">\n";
  for (std::size_t i = 0; i < list.size(); ++i)
    t += fmt::format("<figure{}><figcaption>{}</figcaption>{}</figure>\n",
                     i < 3 ? "" : " class=\"more-pictures\"", escaped(list[i].caption),
                     svg(list[i].drawing, fmt::format("picture{}", i), "picture"));
  return t + "</div>\n</section>\n";
}

std::string closing(const Story& s, const Drawing& qr) {
  std::string t =
      "<div class=\"two\">\n<div>\n<section class=\"says\" aria-labelledby=\"h-care\">\n<h2 "
      "id=\"h-care\">Please take care</h2>\n<ul>\n";
  for (const auto& c : s.care)
    t += fmt::format("<li><b>{}.</b> {}</li>\n", escaped(c.title), escaped(c.says));
  t += fmt::format(
      "</ul>\n</section>\n</div>\n<div>\n<section class=\"privacy\" aria-labelledby=\"h-privacy\">\n<h2 "
      "id=\"h-privacy\">Your privacy</h2>\n<p>{}</p>\n</section>\n",
      escaped(s.privacy));
  t += fmt::format(
      "<section class=\"check\" aria-labelledby=\"h-check\">\n<h2 id=\"h-check\">Check this "
      "sheet</h2>\n<div><p>{} <code>{}</code></p>",
      escaped(s.checking), escaped(s.command));
  if (!s.key.empty()) t += fmt::format("\n<p class=\"key\">Signed with key <b>{}</b></p>", escaped(s.key));
  return t + "</div>\n" + svg(qr, "qr", "qr") + "\n</section>\n</div>\n</div>\n";
}
}  // namespace

Result<std::string> customer_html(const nlohmann::json& record, const SheetInputs& inputs) {
  if (auto ok = check(inputs); !ok) return ok.error();
  const auto view = read(record);
  if (!view) return view.error();
  const auto qr = qr_code(inputs.qr_text, 160);
  if (!qr) return qr.error();
  const Story s = tell(*view, shown(inputs.cure_time, 60));
  std::string body = header(s) + "<main>\n" + verdict(s) + table(s);
  body += remarks("h-means", "What this means", s.attention,
                  "The shop has the measured details and can tell you what happens next.");
  body += remarks("h-untested", "What could not be tested, and why", s.untested, "");
  body += parts(s) + figures(*view) + closing(s, *qr);
  const bool checks_itself = !inputs.key_jwk.empty();
  if (checks_itself) body += self_check_section();
  body += "</main>\n";
  body += fmt::format("<footer>\n<p class=\"ask\">{}</p>\n</footer>\n", escaped(s.ask));
  body += fmt::format("<script type=\"application/jose\" id=\"record\">handback-record:[{}]</script>\n",
                      inputs.record_jws);
  if (!inputs.certificates.empty())
    body += fmt::format("<script type=\"application/jwt\" id=\"certificates\">{}</script>\n",
                        inputs.certificates);
  body += fmt::format("<script type=\"application/jose\" id=\"seal\">{}</script>\n", inputs.seal_slot);
  if (checks_itself)
    body += fmt::format(
        "<script type=\"application/jwk+json\" id=\"key\">{}</script>\n"
        "<script type=\"application/json\" id=\"words\">{}</script>\n<script>{}</script>\n",
        inputs.key_jwk, self_check_words(*view), self_check_content());
  return document(s.heading, std::string(kCommonCss) + std::string(kCustomerCss), body,
                  checks_itself ? self_check_source() : std::string());
}
}  // namespace hb::sheet
