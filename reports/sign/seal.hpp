/// The seal of a sheet: a signature over every byte of an HTML or PDF file, kept inside that file.
///
/// The file carries one slot, `handback-seal:[` + exactly 700 characters + `]`. Empty, the slot holds 700
/// dots. Sealed, it holds a compact JWS followed by dots. The JWS signs canonical JSON
///   {"kind":"html"|"pdf","record_sha256":hex,"schema":"handback-seal-1","sha256":hex}
/// where sha256 is that of the file with the slot's 700 characters set back to dots, and record_sha256 that
/// of the record's text with its disclosures. An HTML file also carries that text as `handback-record:[` +
/// JWS + `]`, once; the record of a PDF is its attachment, which the caller reads and hands in. Each marker
/// may occur only once in a file, so a script that looks for one must not spell it in one piece. Threads:
/// pure functions.
#pragma once

#include "reports/sign/sign.hpp"

namespace hb::sign {
inline constexpr std::string_view kSealMarker = "handback-seal:[";
inline constexpr std::string_view kRecordMarker = "handback-record:[";
inline constexpr std::size_t kSealWidth = 700;

enum class FileKind { html, pdf };

/// `handback-seal:[` + 700 dots + `]`: what a writer puts into the file.
[[nodiscard]] std::string empty_seal_slot();
/// `handback-record:[` + jws + `]`.
[[nodiscard]] std::string record_slot(std::string_view record_jws);

/// Fills the slot. The length of the file does not change. Errors: invalid_argument when the slot is missing,
/// not empty, or there twice; when an HTML file does not carry exactly this record; internal when the JWS
/// does not fit.
[[nodiscard]] Result<std::string> seal(std::string file_with_empty_slot, FileKind kind,
                                       std::string_view record_jws, const SigningKey& key);

enum class SealStatus { authentic, altered, unknown_key, revoked_key };
[[nodiscard]] Term name(SealStatus s) noexcept;

/// What does not fit in a file that is "altered".
enum class SealFlaw {
  none,
  no_seal,    ///< no slot, more than one, or one that is not whole
  no_record,  ///< the record that belongs to the file is not there
  seal,       ///< the seal's own signature
  bytes,      ///< the seal holds, and was made for other bytes or another record
  record      ///< the record's signature or content
};

struct Verification {
  SealStatus status = SealStatus::altered;
  SealFlaw flaw = SealFlaw::none;
  std::string says;  ///< why, one sentence; empty when authentic
  FileKind kind = FileKind::html;
  std::string record_jws;  ///< as found or handed in; only to be trusted when authentic
  nlohmann::json record;   ///< its content; null unless authentic or signed by a key nobody vouches for
  std::string kid, label;  ///< of the seal's key
  std::string revoked_utc, root_id;
  bool signatures_hold = false;  ///< true with unknown_key: the key came along, but nobody vouches for it
};

/// Of a signature that holds: what the key's standing at that time makes of it. `says` is filled unless good.
struct Judged {
  SealStatus status = SealStatus::authentic;
  std::string says;
};
[[nodiscard]] Judged judge(const Verified& signature, std::string_view signed_utc);

/// Total: any bytes give an answer. A key that was revoked before the record was finished gives revoked_key;
/// one whose certificates do not cover that time gives unknown_key. `pdf_record_jws` is read for PDF files
/// only. The certificates in the file are not read here: see certificate.hpp, add_vouched.
[[nodiscard]] Verification verify_sealed(std::string_view file, const KeyRing& ring,
                                         std::string_view pdf_record_jws = {});
}  // namespace hb::sign
