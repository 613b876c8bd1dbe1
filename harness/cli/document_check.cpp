#include "document_check.hpp"

#include <algorithm>
#include <initializer_list>
#include <optional>

#include "harness/base/text.hpp"
#include "reports/sheet/page_text.hpp"
#include "reports/sheet/qr_picture.hpp"
#include "reports/sheet/sheet.hpp"
#include "reports/sign/seal.hpp"
#include "reports/sign/summary.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;
constexpr const char* kPhotograph =
    "Photograph the code on the paper sheet (PNG or JPEG), or ask the shop for the file as it was handed "
    "over.";
constexpr const char* kAskShop = "Ask the shop for its own copy.";

constexpr Reason kReasons[] = {
    {Why::whole_sheet, Answer::authentic, "whole_sheet", "authentic", "", ""},
    {Why::record, Answer::authentic, "record", "authentic", "", ""},
    {Why::code, Answer::authentic, "code", "authentic",
     "the code is authentic; the page around it was not compared",
     "Compare job, phone and result below with what stands on the page."},
    {Why::changed_after_sealing, Answer::altered, "changed_after_sealing", "altered",
     "the file was changed after it was sealed", kAskShop},
    {Why::seal_broken, Answer::altered, "seal_broken", "altered", "the seal of this sheet is gone or broken",
     kAskShop},
    {Why::record_missing, Answer::altered, "record_missing", "altered",
     "the signed record inside the sheet is missing or damaged", kAskShop},
    {Why::signature_fails, Answer::altered, "signature_fails", "altered", "the signature does not hold",
     kAskShop},
    {Why::page_contradicts_record, Answer::altered, "page_contradicts_record", "altered",
     "the page says something else than the signed record inside it", kAskShop},
    {Why::empty, Answer::cannot_tell, "empty", "cannot tell", "there is nothing in it", kPhotograph},
    {Why::too_large, Answer::cannot_tell, "too_large", "cannot tell", "it is too large to be a sheet of ours",
     kPhotograph},
    {Why::not_a_sheet, Answer::cannot_tell, "not_a_sheet", "cannot tell",
     "this is no sheet, record or code of this program, or another program has left nothing of it that can "
     "be checked",
     kPhotograph},
    {Why::not_whole, Answer::cannot_tell, "not_whole", "cannot tell", "the end of it is missing",
     "Fetch or copy it again, whole, or photograph the code on the paper sheet."},
    {Why::unreadable, Answer::cannot_tell, "unreadable", "cannot tell", "it cannot be read", kPhotograph},
    {Why::picture_kind, Answer::cannot_tell, "picture_kind", "cannot tell",
     "this kind of picture is not read here",
     "Save it as PNG or JPEG, or photograph the code again as one of these."},
    {Why::no_code, Answer::cannot_tell, "no_code", "cannot tell", "no QR code can be read in this picture",
     "Photograph the code again: straight from above, near, in focus, with even light."},
    {Why::foreign_code, Answer::cannot_tell, "foreign_code", "cannot tell",
     "the code in this picture is not the one of a sheet", "Photograph the code at the foot of the sheet."},
    {Why::saved_again, Answer::cannot_tell, "saved_again", "cannot tell",
     "saved again by another program: the record inside is authentic, the page around it is not covered",
     kPhotograph},
    {Why::unknown_key, Answer::cannot_tell, "unknown_key", "unknown key", "nobody vouches for the key",
     "Ask the shop for its public key and give it with --root FILE (or --key FILE for a bench's own)."},
    {Why::list_missing, Answer::cannot_tell, "list_missing", "cannot tell", "a revocation list is missing",
     ""},
    {Why::list_damaged, Answer::cannot_tell, "list_damaged", "cannot tell", "a revocation list is damaged",
     ""},
    {Why::later_run, Answer::superseded_or_withdrawn, "later_run", "superseded",
     "a later run of this job replaces it", "Ask the shop for the sheet of the later run."},
    {Why::withdrawn, Answer::superseded_or_withdrawn, "withdrawn", "withdrawn", "the shop has withdrawn it",
     kAskShop},
    {Why::key_revoked, Answer::superseded_or_withdrawn, "key_revoked", "revoked key",
     "the shop has withdrawn the word of the key that signed this", kAskShop},
};

bool is_space(char c) { return c == ' ' || (c >= '\t' && c <= '\r'); }

DocumentCheck because(DocumentCheck d, Why why, std::string says = {}) {
  d.why = why;
  d.says = std::move(says);
  return d;
}

/// Somewhere in `text` stands `word`, one character of it being wrong perhaps.
bool nearly_holds(std::string_view text, std::string_view word) {
  for (std::size_t at = 0; at + word.size() <= text.size(); ++at) {
    std::size_t other = 0;
    for (std::size_t i = 0; i < word.size(); ++i) other += text[at + i] != word[i];
    if (other <= 1) return true;
  }
  return false;
}

// ---- signed texts

enum class Shape { foreign, cut, ours };

/// By the header that every signed text of this program begins with, a few characters of it being wrong. A
/// text that can be read to its end and holds something else is another program's.
Shape shape_of(std::string_view compact) {
  constexpr std::string_view head = "eyJhbGciOiJFZERTQSIsImtpZCI6";  // {"alg":"EdDSA","kid":
  std::size_t same = 0;
  for (std::size_t i = 0; i < head.size() && i < compact.size(); ++i) same += compact[i] == head[i];
  if (same + 3 < head.size()) return Shape::foreign;
  const auto jws = compact.substr(0, compact.find('~'));
  if (std::count(jws.begin(), jws.end(), '.') < 2) return Shape::cut;
  const auto content = sign::peek(jws);
  if (!content) return Shape::ours;
  if (!content->is_object()) return Shape::foreign;
  const auto held = [&](std::initializer_list<const char*> members) {
    return std::count_if(members.begin(), members.end(), [&](const char* m) { return content->contains(m); });
  };
  const bool record = held({"schema", "bench", "run", "job", "checks", "_sd"}) >= 2;
  const bool summary = held({"d", "h", "j", "o", "r", "t", "v"}) >= 4;
  return record || summary ? Shape::ours : Shape::foreign;
}

DocumentCheck with_signature(DocumentCheck d, const sign::Verified& v, std::string_view finished_utc,
                             Why good) {
  auto j = sign::judge(v, finished_utc);
  d.kid = v.kid;
  d.label = v.label;
  d.root_id = v.entry.root_id;
  d.revoked_utc = v.revoked_utc;
  switch (j.status) {
    case sign::SealStatus::authentic:
      return because(std::move(d), good);
    case sign::SealStatus::revoked_key:
      return because(std::move(d), Why::key_revoked, std::move(j.says));
    case sign::SealStatus::unknown_key:
      return because(std::move(d), Why::unknown_key, std::move(j.says));
    case sign::SealStatus::altered:
      break;
  }
  return because(std::move(d), Why::signature_fails, std::move(j.says));
}

DocumentCheck with_error(DocumentCheck d, const Error& e) {
  return because(std::move(d), e.code == ErrorCode::unknown_key ? Why::unknown_key : Why::signature_fails,
                 e.what);
}

DocumentCheck check_record(std::string_view text, const sign::KeyRing& ring) {
  DocumentCheck d;
  d.kind = "record";
  auto v = sign::verify_record(text, ring);
  if (!v) return with_error(std::move(d), v.error());
  d.record = std::move(v->record);
  d.record_jws = std::string(text);
  const auto finished = d.record["run"]["finished"].get<std::string>();
  return with_signature(std::move(d), v->signature, finished, Why::record);
}

DocumentCheck check_summary(const std::string& compact, const sign::KeyRing& ring) {
  DocumentCheck d;
  d.kind = "summary (QR code)";
  auto v = sign::verify_summary(compact, ring);
  if (!v) return with_error(std::move(d), v.error());
  const auto& s = v->summary;
  d.summary = {{"job", s.job_id},
               {"run", s.run_id},
               {"outcome", s.outcome},
               {"finished", s.finished_utc},
               {"phone_tail", s.phone_tail}};
  return with_signature(std::move(d), v->signature, s.finished_utc, Why::code);
}

DocumentCheck check_codes(const std::vector<std::string>& texts, const sign::KeyRing& ring, DocumentCheck d) {
  std::optional<DocumentCheck> ours;
  for (const auto& t : texts) {
    if (shape_of(t) == Shape::foreign) continue;
    auto one = check_text(t, ring);
    if (!ours || one.answer() == Answer::authentic) ours = std::move(one);
  }
  if (ours) return *ours;
  return because(std::move(d), texts.empty() ? Why::no_code : Why::foreign_code);
}

// ---- sheets that another program wrote

/// What a parser of HTML makes of the white space around <head> and behind </body> shows that a browser wrote
/// the file: there is none (HTML standard, 13.2.6.4.2 "before html" to 13.2.6.4.3, 13.2.6.4.19 "after body").
bool is_written_by_browser(std::string_view html) {
  const auto tag = html.find("<html");
  if (tag == std::string_view::npos) return false;
  const auto close = html.find('>', tag);
  if (close == std::string_view::npos || html.substr(close + 1, 5) != "<head") return false;
  while (!html.empty() && is_space(html.back())) html.remove_suffix(1);
  return html.ends_with("</body></html>");
}

/// The sheet as it was handed over, when what stands behind its end is an update that a program appended
/// (ISO 32000-1, 7.5.6); else empty.
std::string_view before_update(std::string_view pdf) {
  const auto slot = pdf.find(sign::kSealMarker);
  if (slot == std::string_view::npos) return {};
  constexpr std::string_view eof = "%%EOF\n";
  const auto end = pdf.find(eof, slot);
  if (end == std::string_view::npos) return {};
  const auto update = pdf.substr(end + eof.size());
  if (update.find(" obj") == std::string_view::npos || update.find("startxref") == std::string_view::npos)
    return {};
  return pdf.substr(0, end + eof.size());
}

/// A PDF that this program's writer ended, though the seal's marker cannot be found: a comment as long as the
/// slot behind the end, and a second end.
bool has_our_end(std::string_view pdf) {
  const auto end = pdf.rfind("startxref\n");
  if (end == std::string_view::npos || end == 0) return false;
  const auto line = pdf.rfind('\n', end - 2);
  return line != std::string_view::npos && pdf.substr(line + 1, 1) == "%" && end - line > sign::kSealWidth;
}

/// The end of it is missing: what closes such a file does not stand behind the seal, or anywhere.
bool is_cut(std::string_view file, bool pdf) {
  const auto slot = file.find(sign::kSealMarker);
  const auto behind = slot == std::string_view::npos ? 0 : slot + sign::kSealMarker.size() + sign::kSealWidth;
  return !nearly_holds(file.substr(std::min(file.size(), behind)), pdf ? "%%EOF" : "</html>");
}

std::string short_text(std::string t) {
  if (t.size() > 60) t.replace(60, std::string::npos, "...");
  return t;
}

/// A job number on the page that is not the record's, while the record's is not there.
std::optional<sheet::Contradiction> other_job(const std::vector<std::string>& page, const std::string& job) {
  std::optional<sheet::Contradiction> other;
  for (const auto& w : page) {
    const auto at = w.find("J-");
    if (at == std::string::npos || w.size() < at + 15) continue;
    const auto id = w.substr(at, 15);
    const auto digits = [&](std::size_t from, std::size_t n) {
      return id.find_first_not_of("0123456789", from) >= from + n;
    };
    if (!digits(2, 8) || id[10] != '-' || !digits(11, 4)) continue;
    if (id == job) return std::nullopt;
    if (!other) other = {id, job};
  }
  return other;
}

std::optional<sheet::Contradiction> contradicts(std::string_view bytes, bool pdf, const json& record,
                                                std::string_view record_jws, const sign::KeyRing& ring,
                                                std::string_view software) {
  const auto page = pdf ? sheet::pdf_words(bytes) : sheet::html_words(bytes);
  if (!page) return std::nullopt;
  if (auto other = other_job(*page, record["job"].value("id", ""))) return other;
  if (record["run"].value("software", "") != software) return std::nullopt;
  sheet::SheetInputs in;
  in.record_jws = std::string(record_jws);
  in.seal_slot = sign::empty_seal_slot();
  in.qr_text = "x";
  in.language = pdf ? sheet::pdf_language(bytes) : sheet::html_language(bytes);
  if (const auto* key = ring.find(record["bench"].value("key_id", ""))) in.key_jwk = key->key.jwk();
  const auto file = pdf ? sheet::customer_pdf(record, in) : sheet::customer_html(record, in);
  if (!file) return std::nullopt;
  const auto written = pdf ? sheet::pdf_words(*file) : sheet::html_words(*file);
  if (!written) return std::nullopt;
  return sheet::contradiction(*written, *page,
                              sheet::outcome_words(in.language.empty() ? "en" : in.language));
}

DocumentCheck saved_again(DocumentCheck d, std::string_view bytes, bool pdf, std::string_view record_jws,
                          const sign::KeyRing& ring, std::string_view software) {
  auto inside = check_record(record_jws, ring);
  inside.kind = d.kind;
  if (inside.why != Why::record) return inside;
  if (const auto c = contradicts(bytes, pdf, inside.record, record_jws, ring, software)) {
    inside.record = nullptr;
    return because(std::move(inside), Why::page_contradicts_record,
                   "the page says \"" + short_text(c->page) + "\" where the signed record says \"" +
                       short_text(c->record) + "\"");
  }
  return because(std::move(inside), Why::saved_again);
}

// ---- sheets

DocumentCheck of_verification(DocumentCheck d, const sign::Verification& v) {
  d.kid = v.kid;
  d.label = v.label;
  d.root_id = v.root_id;
  d.revoked_utc = v.revoked_utc;
  d.record = v.record;
  d.record_jws = v.record_jws;
  switch (v.status) {
    case sign::SealStatus::authentic:
      return because(std::move(d), Why::whole_sheet);
    case sign::SealStatus::unknown_key:
      return because(std::move(d), Why::unknown_key, v.says);
    case sign::SealStatus::revoked_key:
      return because(std::move(d), Why::key_revoked, v.says);
    case sign::SealStatus::altered:
      break;
  }
  switch (v.flaw) {
    case sign::SealFlaw::no_seal:
      return because(std::move(d), Why::seal_broken, v.says);
    case sign::SealFlaw::no_record:
      return because(std::move(d), Why::record_missing);
    case sign::SealFlaw::seal:
    case sign::SealFlaw::record:
      return because(std::move(d), Why::signature_fails, v.says);
    case sign::SealFlaw::bytes:
    case sign::SealFlaw::none:
      break;
  }
  return because(std::move(d), Why::changed_after_sealing, v.says);
}

DocumentCheck check_sheet(std::string_view bytes, bool pdf, const sign::KeyRing& ring,
                          std::string_view software) {
  DocumentCheck d;
  d.kind = pdf ? "sheet (PDF)" : "sheet (HTML)";
  const auto carried = [&](std::string_view file) {
    return pdf ? sheet::attached_record(file).value_or(std::string()) : std::string();
  };
  const auto v = sign::verify_sealed(bytes, ring, carried(bytes));
  if (v.status != sign::SealStatus::altered) return of_verification(std::move(d), v);
  if (pdf) {
    const auto original = before_update(bytes);
    if (!original.empty()) {
      const auto jws = carried(original);
      const auto whole = sign::verify_sealed(original, ring, jws);
      if (whole.status != sign::SealStatus::altered)
        return saved_again(std::move(d), bytes, true, jws, ring, software);
    }
  } else if (is_written_by_browser(bytes) && !v.record_jws.empty()) {
    return saved_again(std::move(d), bytes, false, v.record_jws, ring, software);
  }
  if (is_cut(bytes, pdf)) return because(std::move(d), Why::not_whole);
  return of_verification(std::move(d), v);
}

DocumentCheck check_other_pdf(std::string_view bytes, const sign::KeyRing& ring, std::string_view software) {
  DocumentCheck d;
  d.kind = "PDF";
  const auto record = sheet::attached_record(bytes);
  if (record && has_our_end(bytes)) return because(std::move(d), Why::seal_broken);
  if (record) {
    d.kind = "sheet (PDF)";
    return saved_again(std::move(d), bytes, true, *record, ring, software);
  }
  const auto codes = sheet::codes_in_pdf(bytes);
  if (!codes) return because(std::move(d), Why::unreadable);
  if (!codes->texts.empty()) return check_codes(codes->texts, ring, std::move(d));
  if (codes->pictures == 0) return because(std::move(d), Why::not_a_sheet);
  return because(std::move(d), codes->unread == codes->pictures ? Why::picture_kind : Why::no_code,
                 "no code can be read in the pictures of this PDF");
}
}  // namespace

const Reason& reason(Why why) {
  const auto* it =
      std::find_if(std::begin(kReasons), std::end(kReasons), [&](const Reason& r) { return r.why == why; });
  return *it;
}

const char* name(Answer a) {
  constexpr const char* names[] = {"authentic", "altered", "cannot_tell", "superseded_or_withdrawn"};
  return names[static_cast<std::size_t>(a)];
}

const char* heading(Answer a) {
  constexpr const char* names[] = {"✓ AUTHENTIC", "✗ ALTERED", "? CANNOT TELL", "! SUPERSEDED OR WITHDRAWN"};
  return names[static_cast<std::size_t>(a)];
}

int exit_code(Answer a) {
  constexpr int codes[] = {0, 1, 5, 3};
  return codes[static_cast<std::size_t>(a)];
}

DocumentCheck check_text(std::string_view text, const sign::KeyRing& ring) {
  DocumentCheck d;
  d.kind = "text";
  // A code's text was perhaps wrapped or quoted by a mail, or ended by a line break: white space and ">" are
  // no part of it. A record is its bytes and nothing else.
  std::string compact(text);
  std::erase_if(compact, [](char c) { return is_space(c) || c == '>'; });
  if (compact.empty()) return because(std::move(d), Why::empty);
  const auto shape = shape_of(compact);
  if (shape == Shape::foreign) return because(std::move(d), Why::not_a_sheet);
  if (shape == Shape::cut) return because(std::move(d), Why::not_whole);
  const auto content = sign::peek(compact.substr(0, compact.find('~')));
  const bool summary = content && content->is_object() && content->contains("v");
  return summary ? check_summary(compact, ring) : check_record(text, ring);
}

DocumentCheck check_document(std::string_view bytes, const sign::KeyRing& ring, std::string_view software) {
  const auto has = [&](std::string_view marker) { return bytes.find(marker) != std::string_view::npos; };
  DocumentCheck d;
  if (std::all_of(bytes.begin(), bytes.end(), is_space)) return because(std::move(d), Why::empty);
  if (sheet::is_picture(bytes)) {
    d.kind = "picture";
    const auto texts = sheet::codes_in_picture(bytes);
    if (!texts) return because(std::move(d), Why::unreadable, texts.error().what);
    return check_codes(*texts, ring, std::move(d));
  }
  if (const auto kind = sheet::unread_picture(bytes); !kind.empty()) {
    d.kind = "picture";
    return because(std::move(d), Why::picture_kind, "a " + std::string(kind) + " picture is not read here");
  }
  const bool pdf = nearly_holds(bytes.substr(0, 5), "%PDF-");
  if (has(sign::kSealMarker) || (!pdf && has(sign::kRecordMarker)))
    return check_sheet(bytes, pdf, ring, software);
  return pdf ? check_other_pdf(bytes, ring, software) : check_text(bytes, ring);
}
}  // namespace hb::cli
