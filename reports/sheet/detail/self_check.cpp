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
    {"authentic", "Authentic"},
    {"altered", "Altered"},
    {"unchecked", "Not checked"},
    {"page_good",
     "every word and drawing on this page is as it was sealed, and the signed record belongs to it. This "
     "holds if the key below is the shop's."},
    {"file_good",
     "every byte of {0} is as it was sealed. This holds if the key below is the "
     "shop's."},
    {"other_sheet", "But it is not this page: it is the sheet of job {0}."},
    {"no_seal", "it carries no seal, or more than one."},
    {"no_record", "the signed record is missing, or there twice."},
    {"record_changed", "the signed record was changed."},
    {"seal_changed", "the seal was changed."},
    {"other_key", "it is signed with a key that this page does not carry."},
    {"other_record", "the record is not the one that was sealed."},
    {"page_changed", "what this page shows is not what was sealed."},
    {"file_changed", "the file was changed after it was sealed."},
    {"difference", "The page says \u201C{0}\u201D, the signed record says \u201C{1}\u201D."},
    {"extension",
     "A browser extension that changes pages can cause this too: choose the file below to be sure."},
    {"no_signatures",
     "it fits the fingerprint in its seal, but this browser cannot check who signed. Use the program "
     "handback "
     "verify."},
    {"no_crypto", "this browser cannot check anything here. Use the program handback verify."},
    {"key_broken", "the key in this page is not whole."},
    {"pdf", "this page can check pages only. Use the program handback verify for a PDF."},
    {"unreadable", "this could not be read."},
    {"code_broken", "this is not the whole text of a code, or it was changed."},
    {"code_other", "this code is the one of another sheet: job {0}, {1}, {2}."},
    {"code_alone",
     "this code is signed (job {0}, {1}, {2}), but there is no sound record here to compare it "
     "with."},
    {"code_good", "this code belongs to this sheet: job {0}, {1}, {2}."},
    {"key_same", "it is the key of this page."},
    {"key_differs", "it is not the key of this page. Do not trust this sheet: ask the shop."},
    {"date", "{0}\u00A0{1} {2}"}};
}  // namespace

std::string self_check_content() { return "\n" + std::string(self_check_script()); }

std::string self_check_source() { return "'sha256-" + base64(sha256(as_bytes(self_check_content()))) + "'"; }

std::string self_check_words(const View& /*view*/) {
  nlohmann::json words;
  for (const auto& s : kSentences) words[s.name] = s.says;
  for (const Outcome o :
       {Outcome::pass, Outcome::waived, Outcome::not_tested, Outcome::marginal, Outcome::fail})
    words["outcomes"][record_word(o)] = word(o);
  words["months"] = nlohmann::json::array();
  for (int m = 1; m <= 12; ++m) words["months"].push_back(month(m));
  words["texts"] = nlohmann::json::object();
  std::string out = words.dump();
  for (auto at = out.find('<'); at != std::string::npos; at = out.find('<', at))
    out.replace(at, 1, "\\u003c");
  return out;
}

std::string self_check_section() {
  const auto field = [](const char* id, const char* label, const char* input) {
    return fmt::format(
        "<p><label for=\"self-{0}\">{1}</label> {2}</p>\n<p id=\"self-{0}-says\" role=\"status\"></p>\n", id,
        escaped(label), input);
  };
  std::string t = fmt::format(
      "<section class=\"self\" id=\"self\" aria-labelledby=\"h-self\" hidden=\"\">\n<h2 "
      "id=\"h-self\">{}</h2>\n<p id=\"self-says\" role=\"status\">{}</p>\n<p>{} <code "
      "id=\"self-key\"></code>. {}</p>\n",
      escaped("This page checks itself"), escaped("Checking."), escaped("Its key:"),
      escaped("A page cannot vouch for its own key: compare it with the one that the shop publishes."));
  t += field("shop-key", "The shop's key, pasted here:",
             "<input type=\"text\" id=\"self-shop-key\" autocomplete=\"off\" spellcheck=\"false\">");
  t += field("file", "This page as a file, to check every byte:",
             "<input type=\"file\" id=\"self-file\" accept=\".html,.htm,text/html\">");
  t += field("code", "The text of a QR code, pasted here:",
             "<input type=\"text\" id=\"self-code\" autocomplete=\"off\" spellcheck=\"false\">");
  return t + fmt::format("<p class=\"limits\">{}</p>\n</section>\n",
                         escaped("Nothing leaves this device. This check finds a changed word, but whoever "
                                 "rewrites the page can rewrite the check too: the program handback verify "
                                 "has the last word."));
}
}  // namespace hb::sheet
