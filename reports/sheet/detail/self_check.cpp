#include "self_check.hpp"

#include <fmt/format.h>

#include "harness/base/encoding.hpp"
#include "html.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
struct Sentence {
  const char *name, *says;
};
constexpr Sentence kSentences[] = {
    {"authentic", HB_TEXT("Authentic")},
    {"altered", HB_TEXT("Altered")},
    {"unchecked", HB_TEXT("Not checked")},
    {"page_good",
     HB_TEXT(
         "every word and drawing on this page is as it was sealed, and the signed record belongs to it. This "
         "holds if the key below is the shop's.")},
    {"file_good", HB_TEXT("every byte of {0} is as it was sealed. This holds if the key below is the "
                          "shop's.")},
    {"other_sheet", HB_TEXT("But it is not this page: it is the sheet of job {0}.")},
    {"no_seal", HB_TEXT("it carries no seal, or more than one.")},
    {"no_record", HB_TEXT("the signed record is missing, or there twice.")},
    {"record_changed", HB_TEXT("the signed record was changed.")},
    {"seal_changed", HB_TEXT("the seal was changed.")},
    {"other_key", HB_TEXT("it is signed with a key that this page does not carry.")},
    {"other_record", HB_TEXT("the record is not the one that was sealed.")},
    {"page_changed", HB_TEXT("what this page shows is not what was sealed.")},
    {"file_changed", HB_TEXT("the file was changed after it was sealed.")},
    {"difference", HB_TEXT("The page says “{0}”, the signed record says “{1}”.")},
    {"extension",
     HB_TEXT("A browser extension that changes pages can cause this too: choose the file below to be sure.")},
    {"no_signatures",
     HB_TEXT("it fits the fingerprint in its seal, but this browser cannot check who signed. Use the program "
             "handback "
             "verify.")},
    {"no_crypto", HB_TEXT("this browser cannot check anything here. Use the program handback verify.")},
    {"key_broken", HB_TEXT("the key in this page is not whole.")},
    {"pdf", HB_TEXT("this page can check pages only. Use the program handback verify for a PDF.")},
    {"unreadable", HB_TEXT("this could not be read.")},
    {"code_broken", HB_TEXT("this is not the whole text of a code, or it was changed.")},
    {"code_other", HB_TEXT("this code is the one of another sheet: job {0}, {1}, {2}.")},
    {"code_alone",
     HB_TEXT("this code is signed (job {0}, {1}, {2}), but there is no sound record here to compare it "
             "with.")},
    {"code_good", HB_TEXT("this code belongs to this sheet: job {0}, {1}, {2}.")},
    {"key_same", HB_TEXT("it is the key of this page.")},
    {"key_differs", HB_TEXT("it is not the key of this page. Do not trust this sheet: ask the shop.")},
    {"date", HB_TEXT("{0} {1} {2}")}};
}  // namespace

std::string self_check_content() { return "\n" + std::string(self_check_script()); }

std::string self_check_source() { return "'sha256-" + base64(sha256(as_bytes(self_check_content()))) + "'"; }

std::string self_check_words(const View& view, const Language& l) {
  nlohmann::json words;
  for (const auto& s : kSentences) words[s.name] = l.tr(s.says);
  for (const Outcome o :
       {Outcome::pass, Outcome::waived, Outcome::not_tested, Outcome::marginal, Outcome::fail})
    words["outcomes"][record_word(o)] = word(o, l);
  words["months"] = nlohmann::json::object();
  for (int m = 1; m <= 12; ++m) words["months"][std::to_string(m)] = month(m, l);
  words["texts"] = nlohmann::json::object();
  for (const auto& c : view.checks)
    if (std::string t = l.of_record(c.customer_title); t != c.customer_title)
      words["texts"][c.customer_title] = t;
  const auto shop = [&](const char* sense, const std::string& text) {
    if (std::string t = l.of_shop(sense, text); t != l.isolated(text)) words["texts"][text] = t;
  };
  shop("fault", view.fault);
  shop("repair", view.repair);
  shop("colour", view.colour);
  for (const auto& p : view.parts) shop("fitted", p.name);
  std::string out = words.dump();
  // There is no list in it, so each '[' stands inside a text, as each '<' does.
  for (auto at = out.find_first_of("<["); at != std::string::npos; at = out.find_first_of("<[", at))
    out.replace(at, 1, out[at] == '<' ? "\\u003c" : "\\u005b");
  return out;
}

std::string self_check_section(const Language& l) {
  const auto field = [](const char* id, const std::string& label, const char* input) {
    return fmt::format(
        "<p><label for=\"self-{0}\">{1}</label> {2}</p>\n<p id=\"self-{0}-says\" role=\"status\"></p>\n", id,
        escaped(label), input);
  };
  std::string t = fmt::format(
      "<section class=\"self\" id=\"self\" aria-labelledby=\"h-self\" hidden=\"\">\n<h2 "
      "id=\"h-self\">{}</h2>\n<p id=\"self-says\" role=\"status\">{}</p>\n<p>{} <code "
      "id=\"self-key\"></code>. {}</p>\n",
      escaped(l.tr("This page checks itself")), escaped(l.tr("Checking.")), escaped(l.tr("Its key:")),
      escaped(l.tr("A page cannot vouch for its own key: compare it with the one that the shop publishes.")));
  t += field(
      "shop-key", l.tr("The shop's key, pasted here:"),
      "<input type=\"text\" id=\"self-shop-key\" dir=\"ltr\" autocomplete=\"off\" spellcheck=\"false\">");
  t += field("file", l.tr("This page as a file, to check every byte:"),
             "<input type=\"file\" id=\"self-file\" accept=\".html,.htm,text/html\">");
  t += field("code", l.tr("The text of a QR code, pasted here:"),
             "<input type=\"text\" id=\"self-code\" dir=\"ltr\" autocomplete=\"off\" spellcheck=\"false\">");
  return t +
         fmt::format("<p class=\"limits\">{}</p>\n</section>\n",
                     escaped(l.tr("Nothing leaves this device. This check finds a changed word, but whoever "
                                  "rewrites the page can rewrite the check too: the program handback verify "
                                  "has the last word.")));
}
}  // namespace hb::sheet
