/// The two faces of a record: one page for the owner of the phone (PDF and HTML), the whole of it for the
/// shop (HTML and a closing table for the terminal). The input is the record's JSON as read back from its
/// signed bytes (reports/record/README.md); members that are missing, or have an unexpected type, leave a gap
/// and never an error, except that a record must be an object with a list of checks.
///
/// Looks    Every result is told by a shape and a word, colour only helps; no face fetches anything from
///          outside its own file, and none needs scripts to be read.
/// Trust    A face never claims more than its record: the overall result shown is the worst of the record's
/// own
///          and of its checks'. All texts are treated as data: escaped, direction controls removed, wrapped.
/// Output   Deterministic: the same record and inputs give the same bytes with the same fonts and libraries.
/// Errors   bad_format: not a record. invalid_argument: an input that cannot be carried (named in `where`).
///          internal: a drawing or PDF library failed.
/// Threads  Pure functions, any thread.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::sheet {

/// ISO 216 A4 (210 x 297 mm) or ANSI/ASME Y14.1 A "Letter" (8.5 x 11 in).
enum class Paper { a4, letter };

/// What the ledger says of a run after it was signed.
struct Standing {
  std::string withdrawn = {};     ///< why, in words of the closed list; empty: it stands
  std::string withdrawn_on = {};  ///< RFC 3339; may be empty
};

/// What a sheet carries besides the record's content.
struct SheetInputs {
  std::string record_jws;   ///< the signed record (sign::sign_concealed): A-Z a-z 0-9 - _ . ~ only
  std::string seal_slot;    ///< the empty slot, whole: "handback-seal:[" + placeholder + "]"
  std::string qr_text;      ///< the signed summary; at most 1200 bytes so that a phone camera still reads it
  Paper paper = Paper::a4;  ///< of the PDF; the HTML prints on whatever paper is in the printer
  /// Shop's words, "24 hours", for a record without /job/cure_hours; empty: the owner is asked to ask the
  /// shop.
  std::string cure_time;
  /// The public key of record and seal, as sign::PublicKey::jwk() writes it: the page then carries a script
  /// that checks itself. Empty: the page carries no script that runs.
  std::string key_jwk = {};
  std::string certificates = {};  ///< the slot that sign::certificate_slot made; may be empty
  std::string language = {};      ///< BCP 47, one of languages(); empty: English
  Standing standing = {};
};

/// "en" and the languages of reports/sheet/po.
[[nodiscard]] std::vector<std::string> languages();

/// One self-contained HTML file. Holds `handback-record:[` JWS `]` and the seal slot once each, in elements
/// that a browser neither shows nor runs; the certificates too, when there are any. With `key_jwk` also the
/// key, and the one script that the page's policy lets run (README.md, "How the page checks itself").
[[nodiscard]] Result<std::string> customer_html(const nlohmann::json& record, const SheetInputs& inputs);

/// Exactly one page. Text is text, drawings are vectors. The record JWS is the attachment "record.jws"; the
/// seal slot (and the certificates before it) is a comment after the file's own end, followed by a second
/// `startxref` to the same table, so that readers open it as before (ISO 32000-1, 7.5.5).
[[nodiscard]] Result<std::string> customer_pdf(const nlohmann::json& record, const SheetInputs& inputs);

/// The record JWS out of a PDF made by customer_pdf. Errors: bad_format (not a PDF, or broken), not_found (a
/// PDF without such an attachment). Total on any bytes.
[[nodiscard]] Result<std::string> attached_record(std::string_view pdf);

/// Every measure with value, standard uncertainty, limit, guard band, risk and count; findings with their
/// evidence; all plots. Self-contained HTML.
[[nodiscard]] Result<std::string> shop_html(const nlohmann::json& record, const Standing& standing = {});

/// The technician's closing table, at most 100 columns wide where texts allow. `colour`: ANSI SGR sequences
/// (ECMA-48); without it plain UTF-8. Something that is not a record gives one line that says so.
[[nodiscard]] std::string text_summary(const nlohmann::json& record, bool colour);

}  // namespace hb::sheet
