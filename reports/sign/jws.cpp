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

Result<std::string> sign_record(const nlohmann::json& record, const SigningKey& key) {
  if (auto r = record::validate(record); !r) return std::move(r).error();
  if (record["bench"]["key_id"] != key.key_id())
    return Error{ErrorCode::invalid_argument, "the record names another key than the one that signs it",
                 "/bench/key_id", "Sign it with the key of the bench that measured."};
  auto text = record::canonical(record);
  if (!text) return std::move(text).error();
  return make_jws(*text, key);
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

Result<VerifiedRecord> verify_record(std::string_view jws, const KeyRing& ring) {
  auto v = verify_jws(jws, ring);
  if (!v) return std::move(v).error();
  const Error no_record{ErrorCode::altered, "what was signed is not a record", "record", ""};
  auto record = record::parse_strict(v->payload);
  if (!record || !record::validate(*record)) return no_record;
  const auto text = record::canonical(*record);
  if (!text || *text != v->payload) return no_record;
  if ((*record)["bench"]["key_id"] != v->kid)
    return Error{ErrorCode::altered, "the record names another key than the one that signed it",
                 "/bench/key_id", "Ask the shop for its own copy."};
  return VerifiedRecord{std::move(*v), std::move(*record)};
}

Result<nlohmann::json> peek(std::string_view jws) {
  auto parts = take_apart(jws);
  if (!parts) return std::move(parts).error();
  return record::parse_strict(parts->payload);
}
}  // namespace hb::sign
