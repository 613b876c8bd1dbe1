/// The compact signed summary behind a sheet's QR code, so that a paper sheet can be checked: a JWS over
///   {"d":finished,"h":hash,"j":job id,"o":outcome,"r":run id,"t":phone tail,"v":1}
/// in canonical JSON; h is base64url of the first 16 octets of SHA-256 over the record's JWS (without its
/// disclosures), which ties the paper to one record. About 400 characters. Threads: pure functions.
#pragma once

#include "reports/sign/sign.hpp"

namespace hb::sign {
struct Summary {
  std::string job_id, run_id, outcome, finished_utc, phone_tail;
  std::string record_hash;  ///< base64url, 22 characters
  friend bool operator==(const Summary&, const Summary&) = default;
};

/// Precondition: `record_jws` was made by sign_record. Errors: bad_format.
[[nodiscard]] Result<std::string> make_summary(std::string_view record_jws, const SigningKey& key);

struct VerifiedSummary {
  Summary summary;
  Verified signature;
};
/// Errors: those of verify_jws; altered when the signed content is no summary.
[[nodiscard]] Result<VerifiedSummary> verify_summary(std::string_view jws, const KeyRing& ring);
/// True when the summary was made from exactly this record.
[[nodiscard]] bool belongs_to(const Summary& summary, std::string_view record_jws);
}  // namespace hb::sign
