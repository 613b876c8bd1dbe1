#include <sodium.h>

#include <algorithm>

#include "key_detail.hpp"
#include "reports/sign/sign.hpp"

namespace hb::sign {
using detail::Locked;
using detail::start_sodium;
namespace {
Result<Bytes> octets_of(const nlohmann::json& jwk, const char* member) {
  const Error bad{ErrorCode::bad_format, std::string("a JWK's \"") + member + "\" is not 32 octets", "", ""};
  const auto it = jwk.find(member);
  if (it == jwk.end() || !it->is_string()) return bad;
  auto octets = from_base64url(it->get_ref<const std::string&>());
  if (!octets || octets->size() != 32) return bad;
  return octets;
}

Result<nlohmann::json> okp(std::string_view json_text) {
  auto jwk = record::parse_strict(json_text);
  if (!jwk) return std::move(jwk).error();
  if (!jwk->is_object() || jwk->value("kty", nlohmann::json()) != "OKP" ||
      jwk->value("crv", nlohmann::json()) != "Ed25519")
    return Error{ErrorCode::bad_format, "this is not an Ed25519 key in JWK form", "", ""};
  return jwk;
}
}  // namespace

// ---------------------------------------------------------------- public

Result<PublicKey> PublicKey::from_raw(ByteView octets) {
  if (octets.size() != 32) return Error{ErrorCode::bad_format, "a public key has 32 octets", "", ""};
  PublicKey k;
  std::copy(octets.begin(), octets.end(), k.octets_.begin());
  return k;
}

Result<PublicKey> PublicKey::from_jwk(std::string_view json_text) {
  auto jwk = okp(json_text);
  if (!jwk) return std::move(jwk).error();
  if (jwk->contains("d"))
    return Error{ErrorCode::refused, "this file holds a private key", "",
                 "Put the public key here and keep the private one on its bench."};
  auto x = octets_of(*jwk, "x");
  if (!x) return std::move(x).error();
  return from_raw(*x);
}

std::string PublicKey::jwk() const {
  return R"({"crv":"Ed25519","kty":"OKP","x":")" + base64url(octets_) + "\"}";
}

std::string PublicKey::thumbprint() const { return base64url(sha256(as_bytes(jwk()))); }

bool PublicKey::verifies(ByteView message, ByteView signature) const noexcept {
  return signature.size() == crypto_sign_BYTES &&
         crypto_sign_verify_detached(signature.data(), message.data(), message.size(), octets_.data()) == 0;
}

// ---------------------------------------------------------------- private

struct SigningKey::Secret {
  Locked key{crypto_sign_SECRETKEYBYTES};  ///< seed, then public key
  PublicKey public_key;
  std::string key_id;
};

SigningKey SigningKey::make() {
  start_sodium();
  Locked seed(crypto_sign_SEEDBYTES);
  randombytes_buf(seed.data(), seed.size());
  return from_seed(seed.view()).value();
}

Result<SigningKey> SigningKey::from_seed(ByteView seed) {
  start_sodium();
  if (seed.size() != crypto_sign_SEEDBYTES)
    return Error{ErrorCode::bad_format, "a private key has 32 octets", "", ""};
  auto secret = std::make_shared<Secret>();
  std::array<std::uint8_t, crypto_sign_PUBLICKEYBYTES> pub{};
  crypto_sign_seed_keypair(pub.data(), secret->key.data(), seed.data());
  secret->public_key = PublicKey::from_raw(pub).value();
  secret->key_id = secret->public_key.thumbprint();
  SigningKey out;
  out.secret_ = std::move(secret);
  return out;
}

ByteView SigningKey::seed() const noexcept { return secret_->key.view().first(crypto_sign_SEEDBYTES); }
const PublicKey& SigningKey::public_key() const noexcept { return secret_->public_key; }
const std::string& SigningKey::key_id() const noexcept { return secret_->key_id; }

Bytes SigningKey::sign(ByteView message) const {
  Bytes s(crypto_sign_BYTES);
  crypto_sign_detached(s.data(), nullptr, message.data(), message.size(), secret_->key.data());
  return s;
}

}  // namespace hb::sign
