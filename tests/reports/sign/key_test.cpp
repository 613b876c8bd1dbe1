#include <gtest/gtest.h>
#include <sys/stat.h>

#include <fstream>
#include <sstream>

#include "reports/sign/sign.hpp"
#include "tests/reports/record/temp_folder.hpp"

namespace hb::sign {
namespace {
namespace fs = std::filesystem;
using testing_support::TempFolder;

std::string read(const fs::path& p) {
  std::ifstream in(p, std::ios::binary);
  std::stringstream s;
  s << in.rdbuf();
  return s.str();
}
void write(const fs::path& p, std::string_view text, mode_t mode = 0600) {
  std::ofstream(p, std::ios::binary) << text;
  ::chmod(p.c_str(), mode);
}

TEST(SigningKeyFile, IsReadBackAndOnlyItsOwnerMayReadIt) {
  const TempFolder dir;
  const auto key = SigningKey::make();
  ASSERT_TRUE(key.save(dir / "bench.key"));
  struct stat st {};
  ASSERT_EQ(::stat((dir / "bench.key").c_str(), &st), 0);
  EXPECT_EQ(st.st_mode & 07777, 0600U);
  const auto back = SigningKey::load(dir / "bench.key");
  ASSERT_TRUE(back) << back.error().message();
  EXPECT_EQ(back->key_id(), key.key_id());
  EXPECT_EQ(back->sign(as_bytes("x")), key.sign(as_bytes("x")));
  const auto again = key.save(dir / "bench.key");
  ASSERT_FALSE(again);
  EXPECT_EQ(again.error().code, ErrorCode::refused);  // a key is never overwritten
}

TEST(SigningKeyFile, IsRefusedWhenOthersCanReadItOrItIsNotWhole) {
  const TempFolder dir;
  ASSERT_TRUE(SigningKey::make().save(dir / "a"));
  const auto text = read(dir / "a");
  ASSERT_TRUE(SigningKey::make().save(dir / "b"));
  const auto other = read(dir / "b");
  // The x of one key with the d of another: 43 characters after "x":".
  const auto crossed = text.substr(0, text.find("\"x\"")) + other.substr(other.find("\"x\""));
  const struct {
    const char* situation;
    std::string text;
    mode_t mode;
    ErrorCode code;
  } rows[] = {{"group may read", text, 0640, ErrorCode::refused},
              {"all may read", text, 0604, ErrorCode::refused},
              {"empty", "", 0600, ErrorCode::bad_format},
              {"cut", text.substr(0, text.size() / 2), 0600, ErrorCode::bad_format},
              {"halves of two keys", crossed, 0600, ErrorCode::bad_format},
              {"public key only", SigningKey::make().public_key().jwk(), 0600, ErrorCode::bad_format}};
  for (const auto& r : rows) {
    write(dir / "k", r.text, r.mode);
    const auto k = SigningKey::load(dir / "k");
    ASSERT_FALSE(k) << r.situation;
    EXPECT_EQ(k.error().code, r.code) << r.situation;
    const auto d = text.substr(text.find("\"d\":\"") + 5, 43);
    EXPECT_EQ(k.error().message().find(d), std::string::npos) << "the error shows the secret";
  }
  EXPECT_EQ(SigningKey::load(dir / "nowhere").error().code, ErrorCode::not_found);
  fs::create_symlink(dir / "a", dir / "link");
  EXPECT_FALSE(SigningKey::load(dir / "link"));
  EXPECT_FALSE(SigningKey::load(dir.path()));
}

TEST(KeyRingFolder, HoldsPublicKeysWithLabelAndRevocation) {
  const TempFolder dir;
  const auto a = SigningKey::make(), b = SigningKey::make();
  write(dir / "a.jwk", a.public_key().jwk());
  write(dir / "b.jwk",
        b.public_key().jwk().insert(1, R"("label":"bench 2","revoked_utc":"2026-11-01T00:00:00Z",)"));
  write(dir / "notes.txt", "not a key");
  const auto ring = KeyRing::load(dir.path());
  ASSERT_TRUE(ring) << ring.error().message();
  EXPECT_EQ(ring->size(), 2U);
  ASSERT_NE(ring->find(b.key_id()), nullptr);
  EXPECT_EQ(ring->find(b.key_id())->label, "bench 2");
  EXPECT_EQ(ring->find(b.key_id())->revoked_utc, "2026-11-01T00:00:00Z");
  EXPECT_EQ(ring->find(a.key_id())->revoked_utc, "");
  EXPECT_EQ(ring->find("nobody"), nullptr);
}

TEST(KeyRingFolder, NamesTheFileThatIsWrong) {
  const auto pub = SigningKey::make().public_key().jwk();
  const TempFolder keep;
  ASSERT_TRUE(SigningKey::make().save(keep / "private"));
  const struct {
    const char* situation;
    std::string text;
    ErrorCode code;
  } rows[] = {{"a private key among the public ones", read(keep / "private"), ErrorCode::refused},
              {"no JSON", "hello", ErrorCode::bad_format},
              {"another curve", R"({"crv":"X25519","kty":"OKP","x":"AA"})", ErrorCode::bad_format},
              {"a short key", R"({"crv":"Ed25519","kty":"OKP","x":"AA"})", ErrorCode::bad_format},
              {"a label with a turned direction", std::string(pub).insert(1, "\"label\":\"b\u202ea\","),
               ErrorCode::bad_format},
              {"a date that is none", std::string(pub).insert(1, R"("revoked_utc":"yesterday",)"),
               ErrorCode::bad_format}};
  for (const auto& r : rows) {
    const TempFolder dir;
    write(dir / "odd.jwk", r.text);
    const auto ring = KeyRing::load(dir.path());
    ASSERT_FALSE(ring) << r.situation;
    EXPECT_EQ(ring.error().code, r.code) << r.situation;
    EXPECT_NE(ring.error().where.find("odd.jwk"), std::string::npos) << r.situation;
  }
  EXPECT_EQ(KeyRing::load(keep / "nowhere").error().code, ErrorCode::not_found);
}

TEST(KeyRing, AKeyThatCameWithADocumentCannotVouchForItself) {
  const auto key = SigningKey::make();
  KeyRing ring;
  ring.add({key.public_key(), "shop", "2026-11-01T00:00:00Z", true});
  ring.add({key.public_key(), "trust me", "", false});
  EXPECT_EQ(ring.find(key.key_id())->label, "shop");
  EXPECT_EQ(ring.find(key.key_id())->revoked_utc, "2026-11-01T00:00:00Z");
  ring.add(key.public_key());  // given again without the date: the revocation stays
  EXPECT_EQ(ring.find(key.key_id())->revoked_utc, "2026-11-01T00:00:00Z");
}

}  // namespace
}  // namespace hb::sign
