// Published vectors: Ed25519 (RFC 8032 7.1), JWK and JWS with EdDSA (RFC 8037 appendix A), thumbprint
// (RFC 7638 as used there), base64url and the signing input (RFC 7515 appendix A.1).
#include <gtest/gtest.h>

#include "reports/sign/sign.hpp"

namespace hb::sign {
namespace {

Bytes bytes(std::string_view h) { return from_hex(h).value(); }

TEST(Ed25519, VectorsOfRfc8032) {
  const struct {
    const char *name, *seed, *pub, *message, *signature;
  } rows[] = {{"TEST 1", "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
               "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
               "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b"
               "46bd25bf5f05"
               "95bbe24655141438e7a100b"},
              {"TEST 2", "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
               "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
               "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11"
               "d8c387b2eaeb"
               "4302aeeb00d291612bb0c00"},
              {"TEST 3", "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
               "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
               "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc"
               "6594a7c15e97"
               "16ed28dc027beceea1ec40a"},
              {"TEST SHA(abc)", "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
               "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
               "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3fee"
               "bbd454d44236"
               "43ce80e2a9ac94fa54ca49f",
               "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e"
               "0303dca179c1"
               "38ac17ad9bef1177331a704"}};
  for (const auto& r : rows) {
    const auto key = SigningKey::from_seed(bytes(r.seed));
    ASSERT_TRUE(key) << r.name;
    const auto message = bytes(r.message);
    EXPECT_EQ(hex(key->public_key().raw()), r.pub) << r.name;
    EXPECT_EQ(hex(key->sign(message)), r.signature) << r.name;
    EXPECT_TRUE(key->public_key().verifies(message, bytes(r.signature))) << r.name;
  }
}

TEST(Ed25519, AnyBitFlippedAndAnySNotReducedIsRefused) {
  const auto key =
      SigningKey::from_seed(bytes("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb"));
  const Bytes message{0x72};
  const auto good = key->sign(message);
  for (std::size_t bit = 0; bit < good.size() * 8; ++bit) {
    auto bad = good;
    bad[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
    EXPECT_FALSE(key->public_key().verifies(message, bad)) << "bit " << bit;
  }
  // S + L is the same number modulo the group order (RFC 8032 5.1.7 demands S < L).
  // L = 2^252 + 27742317777372353535851937790883648493, little endian:
  const auto order = bytes("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010");
  auto shifted = good;
  unsigned carry = 0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    carry += shifted[32 + i] + unsigned{order[i]};
    shifted[32 + i] = static_cast<std::uint8_t>(carry & 0xff);
    carry >>= 8;
  }
  EXPECT_FALSE(key->public_key().verifies(message, shifted));
}

constexpr const char* kX = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo";
constexpr const char* kJwsOfA4 =
    "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc."
    "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg";

TEST(Rfc8037, KeyThumbprintAndSignatureOfAppendixA) {
  const auto key =
      SigningKey::from_seed(from_base64url("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A").value());
  ASSERT_TRUE(key);
  EXPECT_EQ(key->public_key().jwk(),
            std::string(R"({"crv":"Ed25519","kty":"OKP","x":")") + kX + "\"}");  // A.2
  EXPECT_EQ(key->key_id(), "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k");       // A.3
  const std::string input = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc";
  EXPECT_EQ(input + "." + base64url(key->sign(as_bytes(input))), kJwsOfA4);                             // A.4
  EXPECT_EQ(verify_jws_with(kJwsOfA4, key->public_key()).value_or("?"), "Example of Ed25519 signing");  // A.5
  KeyRing ring;
  ring.add(key->public_key());
  EXPECT_FALSE(verify_jws(kJwsOfA4, ring));  // ours must say whose key it is
}

TEST(Rfc7515, ExampleA1IsReadButItsAlgorithmIsRefused) {
  const std::string jws =
      "eyJ0eXAiOiJKV1QiLA0KICJhbGciOiJIUzI1NiJ9."
      "eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxl"
      "LmNvbS9pc19yb290Ijp0cnVlfQ.dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk";
  const auto key = from_base64url(
      "AyM1SysPpbyDfgZld3umj1qzKObwVMkoqQ-EstJQLr_T-1qS0gZH75aKtMN3Yj0iPS4hcgUuTwjAzZr1Z9CAow");
  ASSERT_TRUE(key);
  EXPECT_EQ(base64url(hmac_sha256(*key, as_bytes(jws.substr(0, jws.rfind('.'))))),
            jws.substr(jws.rfind('.') + 1));
  const auto r = verify_jws_with(jws, SigningKey::make().public_key());
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::refused);
}

}  // namespace
}  // namespace hb::sign
