/// Signatures: Ed25519 keys as JWKs, and compact JWS over exactly one byte string.
/// Sources: Ed25519, RFC 8032; OKP JWK and "EdDSA", RFC 8037; compact JWS, RFC 7515; thumbprint, RFC 7638.
/// The verifier is strict on purpose: one algorithm, a header that holds "alg" and "kid" and nothing else
/// ("typ" too where the reader asks for one) and is canonical JSON, base64url in its one canonical form,
/// "crit" refused. So any changed byte is noticed, no second text stands for the same signature, and nothing
/// that was signed for one purpose is taken for another. Threads: value types; any thread.
#pragma once

#include <array>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/encoding.hpp"
#include "harness/base/result.hpp"
#include "reports/record/disclosure.hpp"
#include "reports/record/record.hpp"

namespace hb::sign {

class PublicKey {
 public:
  /// Errors: bad_format for any length but 32 octets.
  [[nodiscard]] static Result<PublicKey> from_raw(ByteView octets);
  /// Reads an OKP/Ed25519 JWK. Members besides kty, crv, x are ignored, but "d" is refused: a private key has
  /// no business where public keys are read. Errors: bad_format, refused.
  [[nodiscard]] static Result<PublicKey> from_jwk(std::string_view json_text);

  [[nodiscard]] ByteView raw() const noexcept { return octets_; }
  /// {"crv":"Ed25519","kty":"OKP","x":...}: canonical, the very bytes that the thumbprint is taken of.
  [[nodiscard]] std::string jwk() const;
  /// RFC 7638, SHA-256, base64url: 43 characters.
  [[nodiscard]] std::string thumbprint() const;
  /// RFC 8032 5.1.7 with the S < L check; a low-order or non-canonical key verifies nothing.
  [[nodiscard]] bool verifies(ByteView message, ByteView signature) const noexcept;
  friend bool operator==(const PublicKey&, const PublicKey&) = default;

 private:
  std::array<std::uint8_t, 32> octets_{};
};

/// A passphrase, in memory that is locked where the system allows it, and wiped with the last copy.
class Passphrase {
 public:
  static constexpr std::size_t kMax = 1024;
  /// Errors: invalid_argument when empty or longer than kMax. The caller wipes its own copy.
  [[nodiscard]] static Result<Passphrase> of(std::string_view text);
  [[nodiscard]] std::string_view view() const noexcept;

 private:
  struct Locked;
  std::shared_ptr<const Locked> locked_;
};
/// Overwrites the text, in a way that a compiler keeps.
void wipe(std::string& text) noexcept;

/// What it costs to try one passphrase: Argon2id's passes and octets of memory. The default is libsodium's
/// "moderate": 3 passes over 256 MiB.
struct PassphraseCost {
  std::uint64_t passes = 3, octets = std::uint64_t{256} << 20;
};

/// A bench's or a shop's own key. Copies share one secret, which lies in locked memory where the system
/// allows it and is wiped when the last copy goes.
class SigningKey {
 public:
  [[nodiscard]] static SigningKey make();
  /// From the 32-octet seed of RFC 8032. Errors: bad_format.
  [[nodiscard]] static Result<SigningKey> from_seed(ByteView seed);
  /// Errors: not_found; refused when anybody but the owner may read the file, or it is no plain file;
  /// bad_format (also when "x" does not belong to "d"). A protected file asks for its passphrase, once;
  /// unauthorised when it is wrong, and whatever error `ask` gives. A file that systemd handed over
  /// ($CREDENTIALS_DIRECTORY) may show a group bit: there it is the mask of an access list.
  using Ask = std::function<Result<Passphrase>(const std::filesystem::path& file)>;
  [[nodiscard]] static Result<SigningKey> load(const std::filesystem::path& file, const Ask& ask = {});
  /// Writes the private JWK with mode 0600, flushed to the disk. Never overwrites: refused if `file` exists.
  /// Errors: refused, io.
  [[nodiscard]] Result<void> save(const std::filesystem::path& file) const;
  /// The same, protected: the format is in README.md. Errors: also invalid_argument for a cost that load
  /// would refuse, io when the memory cannot be had.
  [[nodiscard]] Result<void> save(const std::filesystem::path& file, const Passphrase& passphrase,
                                  PassphraseCost cost = {}) const;

  [[nodiscard]] const PublicKey& public_key() const noexcept;
  [[nodiscard]] const std::string& key_id() const noexcept;  ///< thumbprint of the public key
  /// 64 octets.
  [[nodiscard]] Bytes sign(ByteView message) const;

 private:
  struct Secret;
  [[nodiscard]] ByteView seed() const noexcept;
  std::shared_ptr<const Secret> secret_;
};

/// Times as records write them, so that they compare as texts.
struct Span {
  std::string from_utc, until_utc;  ///< from included, until excluded
};

/// What a key's word is worth for something that was signed at a given time.
enum class Standing {
  good,
  not_vouched,  ///< nobody says whose key it is
  revoked,      ///< signed at or after the revocation
  outside       ///< no certificate of the key covers that time
};

/// The keys that somebody vouches for. A folder of *.jwk files, each a public JWK with optional "label"
/// (text) and "revoked_utc" (RFC 3339): a revoked key still verifies what was signed before.
class KeyRing {
 public:
  struct Entry {
    PublicKey key;
    std::string label;
    std::string revoked_utc;    ///< empty: not revoked
    bool vouched = true;        ///< false: the key came with the document itself, so it proves no origin
    std::vector<Span> spans{};  ///< of its certificates; empty: trusted by itself, at any time
    std::string root_id{};      ///< key id of the root that certified it; empty: trusted by itself

    [[nodiscard]] Standing at(std::string_view utc) const noexcept;
  };
  /// Errors: not_found, io, bad_format naming the file.
  [[nodiscard]] static Result<KeyRing> load(const std::filesystem::path& folder);
  /// A key given twice keeps the entry that is vouched for; of two such the spans add up and the earlier
  /// revocation counts.
  void add(Entry entry);
  /// Of a key that is here already; a date can only be brought forward.
  void revoke(std::string_view key_id, std::string_view since_utc);
  void add(const PublicKey& key, std::string label = {}) { add(Entry{key, std::move(label), {}, true}); }
  [[nodiscard]] const Entry* find(std::string_view key_id) const noexcept;
  [[nodiscard]] std::size_t size() const noexcept { return entries_.size(); }

 private:
  std::vector<std::pair<std::string, Entry>> entries_;
};

/// Header {"alg":"EdDSA","kid":thumbprint}, and "typ" when one is given, canonical JSON. Any payload bytes.
/// Precondition: `typ` needs no escape in JSON.
[[nodiscard]] std::string make_jws(std::string_view payload, const SigningKey& key,
                                   std::string_view typ = {});

/// 16 octets from the system: what the salts below are unless a test says otherwise.
[[nodiscard]] Bytes random_salt();

/// A record or a job signed with its typed texts apart (record/disclosure.hpp), in the serialisation of
/// RFC 9901: compact JWS, '~', then each disclosure followed by '~'. This is the text that the program calls
/// a signed record everywhere; cutting off disclosures leaves a good signature. What was signed before there
/// was this form is a JWS alone.
[[nodiscard]] Result<std::string> sign_concealed(const nlohmann::json& document, const SigningKey& key,
                                                 const record::Salt& salt = random_salt);
[[nodiscard]] std::string_view jws_of(std::string_view text) noexcept;          ///< up to the first '~'
[[nodiscard]] std::string_view disclosures_of(std::string_view text) noexcept;  ///< what follows it

/// Validates the record against its schema (record::validate) and signs it with sign_concealed: two calls
/// give two texts. Errors: those of validate() and canonical(); invalid_argument when its bench.key_id is not
/// this key's.
[[nodiscard]] Result<std::string> sign_record(const nlohmann::json& record, const SigningKey& key,
                                              const record::Salt& salt = random_salt);

struct Verified {
  std::string payload;  ///< exact bytes
  std::string kid;
  bool known = false;  ///< somebody vouches for the key (KeyRing::Entry::vouched)
  std::string label;
  std::string revoked_utc;  ///< of the key; empty: not revoked
  KeyRing::Entry entry;     ///< the key that was used
};
/// The signature is checked before this returns. Errors: bad_format or refused (not a JWS of this kind),
/// unknown_key (the ring does not hold the key at all: nothing could be checked), altered.
[[nodiscard]] Result<Verified> verify_jws(std::string_view jws, const KeyRing& ring);
/// With one key known beforehand; the header may lack "kid" (RFC 8037 appendix A.4), and its "typ" must be
/// exactly this one (empty: none). Returns the payload.
[[nodiscard]] Result<std::string> verify_jws_with(std::string_view jws, const PublicKey& key,
                                                  std::string_view typ = {});

/// verify_jws, then the record inside: canonical, valid, naming as bench.key_id the key that signed it, and
/// with it the texts that lie beside the signature: each belongs, stands in its place, and is there once.
/// Errors: also altered when it is not.
struct VerifiedRecord {
  Verified signature;
  nlohmann::json record;            ///< with the texts put back; an erased one is not there
  std::vector<std::string> erased;  ///< JSON pointers of the texts that are not disclosed
};
[[nodiscard]] Result<VerifiedRecord> verify_record(std::string_view text, const KeyRing& ring);

/// Content without any check of its signature, for indexing bytes that were verified before. Of a JWS alone:
/// its payload as signed. With disclosures: those are checked and put back.
[[nodiscard]] Result<nlohmann::json> peek(std::string_view text);
}  // namespace hb::sign
