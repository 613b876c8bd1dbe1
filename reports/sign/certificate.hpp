/// The shop's root: one key that vouches for the keys of the benches, so that whoever holds the root's public
/// key alone can check every sheet of the shop, and so that a stolen bench key can be disowned.
///
/// A certificate is a JSON Web Token (RFC 7519) in the compact form of this program's signatures. It confirms
/// one key (RFC 7800, "cnf" with "jwk"):
///   header   {"alg":"EdDSA","kid":root,"typ":"handback-bench+jwt" | "handback-root+jwt"}   (RFC 8725 3.11)
///   payload  {"cnf":{"jwk":{...}},"exp":s,"iat":s,"iss":root,"jti":serial,"label":text,"nbf":s,"sub":key id}
/// Times are NumericDates; key ids are RFC 7638 thumbprints. A certificate covers what was *signed* from nbf
/// (included) to exp (excluded): its validity is judged at the time that a record says it was finished, never
/// at the time of reading. "handback-root+jwt" confirms another root, for what that one issued ("iat") from
/// nbf to exp: how a shop changes its root.
///
/// A revocation list is one too, typ "handback-revoked+jwt":
///   {"iat":s,"iss":root,"number":n,"revoked":[{"kid":key id,"reason":word,"since":s}]}
/// Several lists add up, and of several dates for a key the earliest counts: an old list lifts nothing.
/// Threads: pure functions and value types.
#pragma once

#include "reports/sign/sign.hpp"

namespace hb::sign {
inline constexpr std::string_view kCertificateMarker = "handback-certificates:[";

struct Certificate {
  enum class Kind { bench, root };
  Kind kind = Kind::bench;
  PublicKey key;       ///< that is vouched for
  std::string issuer;  ///< key id of the root
  std::string label;   ///< name of the bench, at most 120 octets, all_seen() of harness/base/gate.hpp
  std::string serial;  ///< 128 random bits, base64url
  std::int64_t issued_s = 0, from_s = 0, until_s = 0;
};

/// Fills in issuer and serial (when empty) and signs. Errors: invalid_argument for times in the wrong order,
/// times outside the years 1970 to 9999, or a label that cannot be shown.
[[nodiscard]] Result<std::string> certify(Certificate c, const SigningKey& root);
/// Signature, form and every claim. Errors: those of verify_jws_with; altered when the content is not right.
[[nodiscard]] Result<Certificate> read_certificate(std::string_view jwt, const PublicKey& root);
/// Key id of the root that a certificate or list names, unchecked.
[[nodiscard]] Result<std::string> issuer_of(std::string_view jwt);

struct RevocationList {
  struct Entry {
    std::string kid;
    std::int64_t since_s = 0;
    std::string reason;  ///< "stolen", "lost" or "retired"
  };
  std::string issuer;
  std::int64_t issued_s = 0;
  std::int64_t number = 0;  ///< grows with each issue
  std::vector<Entry> revoked;
};
/// One entry for each key, by key id: of several dates the earliest counts, with its reason.
[[nodiscard]] std::vector<RevocationList::Entry> merge_revoked(std::vector<RevocationList::Entry> all);
/// Key ids that `known` revokes and `list` does not, or only from a later time on: what would be lost if
/// `list` took its place.
[[nodiscard]] std::vector<std::string> lost_revocations(const std::vector<RevocationList::Entry>& known,
                                                        const std::vector<RevocationList::Entry>& list);
[[nodiscard]] Result<std::string> make_revocation_list(RevocationList list, const SigningKey& root);
[[nodiscard]] Result<RevocationList> read_revocation_list(std::string_view jwt, const PublicKey& root);

/// Adds to `ring` every bench key that `roots` vouch for, directly or through confirmed roots (at most eight
/// steps), with its times and its revocation. What no root signed is left out: anybody may put a certificate
/// into a file. A revoked root confirms nothing from that date on: the certificates it issued later (by their
/// "iat", which a thief can choose) are left out.
struct Vouching {
  std::vector<PublicKey> roots;
  std::vector<std::string> certificates, lists;
};
void add_vouched(KeyRing& ring, const Vouching& by);

/// `handback-certificates:[` + JWTs with commas between + `]`; empty for no certificate.
[[nodiscard]] std::string certificate_slot(const std::vector<std::string>& certificates);
/// The certificates that a sheet carries; none when there is no slot, or not exactly one.
[[nodiscard]] std::vector<std::string> certificates_in(std::string_view file);
}  // namespace hb::sign
