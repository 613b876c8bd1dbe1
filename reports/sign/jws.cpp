#include <sodium.h>

#include "harness/base/text.hpp"
#include "reports/sign/sign.hpp"

namespace hb::sign {
namespace {
Error not_jws(std::string what) {
  return Error{ErrorCode::bad_format, std::move(what), "signature", "Use the bytes as they were signed."};
}

struct Parts {
  std::string_view signed_text;  ///< header.payload, as it stands in the JWS
  std::string kid;               ///< empty if the header has none
  std::string typ;               ///< the same
  std::string payload;
  Bytes signature;
};

struct Header {
  std::string kid, typ;
};

Result<Header> read_header(std::string_view encoded) {
  const auto bytes = from_base64url(encoded);
  if (!bytes) return not_jws("the header is not base64url");
  const auto text = as_text(*bytes);
  const auto header = record::parse_strict(text);
  if (!header || !header->is_object()) return not_jws("the header is not a JSON object");
  if (header->value("alg", nlohmann::json()) != "EdDSA")
    return Error{ErrorCode::refused, "the signature's algorithm is not EdDSA", "signature", ""};
  Header h;
  for (const auto& [name, value] : header->items()) {
    if (name == "kid" && value.is_string())
      h.kid = value.get<std::string>();
    else if (name == "typ" && value.is_string() && value != "")
      h.typ = value.get<std::string>();
    else if (name != "alg")
      return Error{ErrorCode::refused, "the signature's header holds something besides alg and kid",
                   "signature", ""};
  }
  const auto canonical = record::canonical(*header);
  if (!canonical || *canonical != text) return not_jws("the header is not canonical JSON");
  return h;
}

Result<Parts> take_apart(std::string_view jws) {
  const auto fields = split(jws, '.');
  if (fields.size() != 3) return not_jws("a signed text has three parts");
  auto header = read_header(fields[0]);
  if (!header) return std::move(header).error();
  auto payload = from_base64url(fields[1]);
  auto signature = from_base64url(fields[2]);
  if (!payload || !signature) return not_jws("the content or the signature is not base64url");
  return Parts{jws.substr(0, fields[0].size() + 1 + fields[1].size()), std::move(header->kid),
               std::move(header->typ), std::string(as_text(*payload)), std::move(*signature)};
}

Error other_purpose() {
  return Error{ErrorCode::refused, "this was signed for another purpose", "signature", ""};
}

Error signature_fails() {
  return Error{ErrorCode::altered, "the signature does not hold", "signature",
               "Something was changed after signing: ask the shop for its own copy."};
}
}  // namespace

std::string make_jws(std::string_view payload, const SigningKey& key, std::string_view typ) {
  std::string header = R"({"alg":"EdDSA","kid":")" + key.key_id() + "\"";
  if (!typ.empty()) header += R"(,"typ":")" + std::string(typ) + "\"";
  header += '}';
  std::string text = base64url(as_bytes(header)) + "." + base64url(as_bytes(payload));
  const auto signature = key.sign(as_bytes(text));
  return text + "." + base64url(signature);
}

Bytes random_salt() {
  Bytes octets(record::kSaltOctets);
  randombytes_buf(octets.data(), octets.size());
  return octets;
}

Result<std::string> sign_concealed(const nlohmann::json& document, const SigningKey& key,
                                   const record::Salt& salt) {
  const auto concealed = record::conceal(document, salt);
  if (!concealed) return concealed.error();
  auto text = record::canonical(concealed->payload);
  if (!text) return text;
  return make_jws(*text, key) + "~" + concealed->disclosures;
}

Result<std::string> sign_record(const nlohmann::json& record, const SigningKey& key,
                                const record::Salt& salt) {
  if (auto valid = record::validate(record); !valid) return std::move(valid).error();
  if (record["bench"]["key_id"] != key.key_id())
    return Error{ErrorCode::invalid_argument, "the record names another key than the one that signs it",
                 "/bench/key_id", "Sign it with that bench's key."};
  return sign_concealed(record, key, salt);
}

Result<Verified> verify_jws(std::string_view jws, const KeyRing& ring) {
  auto parts = take_apart(jws);
  if (!parts) return std::move(parts).error();
  if (parts->kid.empty()) return not_jws("the signature does not say whose key made it");
  if (!parts->typ.empty()) return other_purpose();
  const auto* entry = ring.find(parts->kid);
  if (entry == nullptr)
    return Error{ErrorCode::unknown_key, "the key of this signature is not known here", "signature",
                 "Get the shop's public key from the shop itself and try again."};
  if (!entry->key.verifies(as_bytes(parts->signed_text), parts->signature)) return signature_fails();
  return Verified{std::move(parts->payload),
                  std::move(parts->kid),
                  entry->vouched,
                  entry->label,
                  entry->revoked_utc,
                  *entry};
}

Result<std::string> verify_jws_with(std::string_view jws, const PublicKey& key, std::string_view typ) {
  auto parts = take_apart(jws);
  if (!parts) return std::move(parts).error();
  if (parts->typ != typ) return other_purpose();
  if (!parts->kid.empty() && parts->kid != key.thumbprint())
    return Error{ErrorCode::unknown_key, "the signature was made with another key", "signature", ""};
  if (!key.verifies(as_bytes(parts->signed_text), parts->signature)) return signature_fails();
  return std::move(parts->payload);
}

std::string_view jws_of(std::string_view text) noexcept { return text.substr(0, text.find('~')); }

std::string_view disclosures_of(std::string_view text) noexcept {
  const auto at = text.find('~');
  return at == std::string_view::npos ? std::string_view() : text.substr(at + 1);
}

namespace {
/// A text with '~' discloses, and only what is concealed can be disclosed.
Result<record::Revealed> reveal(nlohmann::json payload, std::string_view text) {
  const bool discloses = text.find('~') != std::string_view::npos;
  if (discloses != record::is_concealed(payload))
    return Error{ErrorCode::altered, "the texts that belong to the signature are cut off", "disclosures",
                 "Ask the shop for its own copy."};
  return record::reveal(std::move(payload), disclosures_of(text));
}
}  // namespace

Result<VerifiedRecord> verify_record(std::string_view text, const KeyRing& ring) {
  auto v = verify_jws(jws_of(text), ring);
  if (!v) return std::move(v).error();
  const Error no_record{ErrorCode::altered, "what was signed is not a record", "record", ""};
  auto payload = record::parse_strict(v->payload);
  const auto canonical = payload ? record::canonical(*payload) : Result<std::string>(Error{});
  if (!canonical || *canonical != v->payload) return no_record;
  auto revealed = reveal(std::move(*payload), text);
  if (!revealed) return std::move(revealed).error();
  auto& record = revealed->document;
  if (!record::validate(record)) return no_record;
  if (record["bench"]["key_id"] != v->kid)
    return Error{ErrorCode::altered, "the record names another key than the one that signed it",
                 "/bench/key_id", "Ask the shop for its own copy."};
  return VerifiedRecord{std::move(*v), std::move(record), std::move(revealed->erased)};
}

Result<nlohmann::json> peek(std::string_view text) {
  auto parts = take_apart(jws_of(text));
  if (!parts) return std::move(parts).error();
  auto payload = record::parse_strict(parts->payload);
  if (!payload || text.find('~') == std::string_view::npos) return payload;
  auto revealed = reveal(std::move(*payload), text);
  if (!revealed) return std::move(revealed).error();
  return std::move(revealed->document);
}
}  // namespace hb::sign
