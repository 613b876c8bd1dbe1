/// Texts that somebody typed, as salted hashes: selective disclosure after RFC 9901 (SD-JWT; its rules from
/// memory: sections 4.2 disclosures and digests, 4.2.4.1 object properties, 7.1 checks of a verifier).
///
/// What is signed holds, in place of such a text, the SHA-256 of a disclosure. The disclosures lie beside the
/// signature and can be thrown away: the hash stays, and with it every signature and every tree above it.
/// A disclosure is base64url of the JSON array [salt, name, value], here always canonical JSON; its digest is
/// base64url of SHA-256 over that text. An object's digests stand in its "_sd", in ascending order, so that
/// the order tells nothing; "_sd_alg" stands at the top.
///
/// Concealed are, always all of them: of "job" its fault, colour, repair and parts; of each check that was
/// waived its reason. Nothing else may be, and the disclosures have one order (the job's by name, then the
/// checks as they stand), so one document with the same texts erased has one text.
/// Threads: pure functions.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "reports/record/record.hpp"

namespace hb::record {

/// 16 octets that nobody can guess, fresh at each call. Without that a text could be found by trying.
using Salt = std::function<Bytes()>;
inline constexpr std::size_t kSaltOctets = 16;

struct Concealed {
  nlohmann::json payload;   ///< what is signed
  std::string disclosures;  ///< each followed by '~'
};
/// Of a record, or of {"job":{...},"schema":...}. Errors: bad_format when a text is missing (it was erased)
/// or the document is concealed already; invalid_argument for a salt of the wrong length.
[[nodiscard]] Result<Concealed> conceal(nlohmann::json document, const Salt& salt);

/// True for what conceal() gave; false for what was signed before there was this form.
[[nodiscard]] bool is_concealed(const nlohmann::json& payload);

struct Revealed {
  nlohmann::json document;          ///< as it was before conceal(); an erased text is not there
  std::vector<std::string> erased;  ///< JSON pointers of the texts that are not there
};
/// Puts the disclosed texts back. Each disclosure must belong, must be given once, and must stand in its
/// place. A payload that is not concealed takes none. Errors: altered. Total on any JSON and any bytes.
[[nodiscard]] Result<Revealed> reveal(nlohmann::json payload, std::string_view disclosures);
}  // namespace hb::record
