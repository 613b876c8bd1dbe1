#include "keys.hpp"

#include <openssl/bn.h>
#include <openssl/core_names.h>
#include <openssl/evp.h>
#include <openssl/param_build.h>
#include <openssl/rsa.h>

#include <algorithm>
#include <memory>

namespace hb::standin {
namespace {
constexpr std::size_t kStruct = 524, kWordsAt = 0, kModulusAt = 8, kModulus = 256, kExponentAt = 520;

template <auto Free>
struct Freer {
  template <class T>
  void operator()(T* p) const noexcept {
    Free(p);
  }
};
using Bignum = std::unique_ptr<BIGNUM, Freer<BN_free>>;
using Pkey = std::unique_ptr<EVP_PKEY, Freer<EVP_PKEY_free>>;
using PkeyCtx = std::unique_ptr<EVP_PKEY_CTX, Freer<EVP_PKEY_CTX_free>>;
using Builder = std::unique_ptr<OSSL_PARAM_BLD, Freer<OSSL_PARAM_BLD_free>>;
using Params = std::unique_ptr<OSSL_PARAM, Freer<OSSL_PARAM_free>>;

Pkey key_of(const Bytes& s) {
  const Bignum n(BN_lebin2bn(s.data() + kModulusAt, kModulus, nullptr));
  const Bignum e(BN_lebin2bn(s.data() + kExponentAt, 4, nullptr));
  const Builder builder(OSSL_PARAM_BLD_new());
  if (!n || !e || !builder || OSSL_PARAM_BLD_push_BN(builder.get(), OSSL_PKEY_PARAM_RSA_N, n.get()) != 1 ||
      OSSL_PARAM_BLD_push_BN(builder.get(), OSSL_PKEY_PARAM_RSA_E, e.get()) != 1)
    return nullptr;
  const Params params(OSSL_PARAM_BLD_to_param(builder.get()));
  const PkeyCtx ctx(EVP_PKEY_CTX_new_from_name(nullptr, "RSA", nullptr));
  EVP_PKEY* key = nullptr;
  if (!params || !ctx || EVP_PKEY_fromdata_init(ctx.get()) != 1 ||
      EVP_PKEY_fromdata(ctx.get(), &key, EVP_PKEY_PUBLIC_KEY, params.get()) != 1)
    return nullptr;
  return Pkey(key);
}

bool verifies(const Bytes& key_struct, ByteView token, ByteView signature) {
  const auto key = key_of(key_struct);
  const PkeyCtx ctx(key ? EVP_PKEY_CTX_new(key.get(), nullptr) : nullptr);
  return ctx && EVP_PKEY_verify_init(ctx.get()) == 1 &&
         EVP_PKEY_CTX_set_rsa_padding(ctx.get(), RSA_PKCS1_PADDING) == 1 &&
         EVP_PKEY_CTX_set_signature_md(ctx.get(), EVP_sha1()) == 1 &&
         EVP_PKEY_verify(ctx.get(), signature.data(), signature.size(), token.data(), token.size()) == 1;
}
}  // namespace

bool KeyRing::allow(std::string_view text) {
  std::string code(text.substr(0, text.find_first_of(std::string_view(" \0", 2))));
  while (!code.empty() && code.back() == '=') code.pop_back();
  std::replace(code.begin(), code.end(), '+', '-');
  std::replace(code.begin(), code.end(), '/', '_');
  const auto s = from_base64url(code);
  if (!s || s->size() != kStruct || (*s)[kWordsAt] != kModulus / 4) return false;
  allowed_.insert(*s);
  return true;
}

bool KeyRing::signed_by_one(ByteView token, ByteView signature) const {
  return std::any_of(allowed_.begin(), allowed_.end(),
                     [&](const Bytes& key) { return verifies(key, token, signature); });
}
}  // namespace hb::standin
