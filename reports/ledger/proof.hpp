/// Proofs that leave the ledger: a customer or another shop can check them with the public key and no ledger.
///
/// Inclusion, that an entry is the ledger's `seq`-th of `size`:
///   {"schema":"handback-proof-1","kind":"inclusion","seq":n,"entry":text,"path":[hex...],"head":jws}
/// Consistency, that the ledger of the old head is the beginning of the one of the new head:
///   {"schema":"handback-proof-1","kind":"consistency","old_head":jws,"path":[hex...],"head":jws}
/// Hashes and paths are those of RFC 6962 section 2.1; heads are compact JWS. An entry is the signed text
/// with what it discloses (sign::sign_concealed); its leaf is the JWS alone. Threads: pure functions.
#pragma once

#include "reports/ledger/ledger.hpp"

namespace hb::ledger {

[[nodiscard]] nlohmann::json proof_json(const Inclusion& proof, std::string_view entry_jws);
[[nodiscard]] nlohmann::json proof_json(const Consistency& proof);

/// What the asker holds from elsewhere; empty: nothing.
struct Kept {
  std::string record_jws;  ///< an inclusion proof must be of these very bytes
  std::string head_jws;    ///< the proof's head (of a consistency proof: the old head) must say the same
};

struct ProofAnswer {
  bool holds = false;
  std::string kind;  ///< "inclusion" or "consistency"
  std::string says;  ///< one sentence
  std::int64_t seq = 0, size = 0, old_size = 0;
  std::string at_utc, key_id, key_label;  ///< of the head
  nlohmann::json content;                 ///< of the entry; set only when the proof holds
  bool unknown_key = false;  ///< a signature is by a key that is not trusted; nothing else is known
};
/// Both signatures and every hash are checked, offline. A proof that does not hold is a value.
/// Errors: bad_format when the text is no proof. Total on any bytes.
[[nodiscard]] Result<ProofAnswer> check_proof(std::string_view text, const sign::KeyRing& ring,
                                              const Kept& kept = {});
}  // namespace hb::ledger
