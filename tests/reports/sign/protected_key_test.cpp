#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/stat.h>

#include <fstream>
#include <sstream>

#include "reports/sign/sign.hpp"
#include "tests/reports/record/temp_folder.hpp"

namespace hb::sign {
namespace {
using testing_support::TempFolder;

constexpr PassphraseCost kCheap{1, 8192};

std::string read(const std::filesystem::path& p) {
  std::ifstream in(p, std::ios::binary);
  std::stringstream s;
  s << in.rdbuf();
  return s.str();
}
void write(const std::filesystem::path& p, std::string_view text, mode_t mode = 0600) {
  std::ofstream(p, std::ios::binary) << text;
  ::chmod(p.c_str(), mode);
}
SigningKey::Ask answer(std::string_view text) {
  return [p = Passphrase::of(text).value()](const std::filesystem::path&) { return Result<Passphrase>(p); };
}

TEST(ProtectedKey, OpensWithItsPassphraseAndNoOther) {
  const TempFolder dir;
  const auto key = SigningKey::make();
  ASSERT_TRUE(key.save(dir / "k", Passphrase::of("correct horse").value(), kCheap));
  struct stat st {};
  ASSERT_EQ(::stat((dir / "k").c_str(), &st), 0);
  EXPECT_EQ(st.st_mode & 07777, 0600U);
  const auto back = SigningKey::load(dir / "k", answer("correct horse"));
  ASSERT_TRUE(back) << back.error().message();
  EXPECT_EQ(back->key_id(), key.key_id());
  EXPECT_EQ(back->sign(as_bytes("x")), key.sign(as_bytes("x")));
  for (const char* wrong : {"correct hors", "correct horse ", "Correct horse"}) {
    const auto k = SigningKey::load(dir / "k", answer(wrong));
    ASSERT_FALSE(k) << wrong;
    EXPECT_EQ(k.error().code, ErrorCode::unauthorised);
    EXPECT_NE(k.error().message().find("passphrase is wrong"), std::string::npos);
    EXPECT_EQ(k.error().message().find(wrong), std::string::npos) << "the error shows what was typed";
  }
  EXPECT_EQ(SigningKey::load(dir / "k").error().code, ErrorCode::unauthorised);  // nobody to ask
  EXPECT_EQ(key.save(dir / "k", Passphrase::of("x").value(), kCheap).error().code, ErrorCode::refused);
}

TEST(ProtectedKey, TheFileShowsNothingOfTheSecret) {
  const TempFolder dir;
  const Bytes seed(32, 0x5a);
  ASSERT_TRUE(SigningKey::from_seed(seed)->save(dir / "k", Passphrase::of("p").value(), kCheap));
  const auto content = read(dir / "k");
  EXPECT_EQ(content.find(std::string(as_text(seed)).substr(0, 8)), std::string::npos);
  ASSERT_TRUE(SigningKey::from_seed(seed)->save(dir / "again", Passphrase::of("p").value(), kCheap));
  EXPECT_NE(read(dir / "again"), content);  // a salt of its own
}

TEST(ProtectedKey, EveryChangedOrMissingOctetIsNoticed) {
  const TempFolder dir;
  ASSERT_TRUE(SigningKey::make().save(dir / "k", Passphrase::of("p").value(), kCheap));
  const auto good = read(dir / "k");
  ASSERT_EQ(good.size(), 142U);
  for (std::size_t i = 0; i < good.size(); ++i) {
    for (const int change : {1, 4}) {
      auto bad = good;
      bad[i] = static_cast<char>(bad[i] ^ change);
      write(dir / "bad", bad);
      EXPECT_FALSE(SigningKey::load(dir / "bad", answer("p"))) << "octet " << i;
    }
  }
  for (const std::size_t n : {0U, 5U, 6U, 93U, 141U}) {
    write(dir / "bad", good.substr(0, n));
    EXPECT_FALSE(SigningKey::load(dir / "bad", answer("p"))) << n << " octets";
  }
  write(dir / "bad", good + "x");
  EXPECT_FALSE(SigningKey::load(dir / "bad", answer("p")));
  auto newer = good;
  newer[5] = 2;
  write(dir / "bad", newer);
  EXPECT_EQ(SigningKey::load(dir / "bad", answer("p")).error().code, ErrorCode::unsupported);
}

TEST(ProtectedKey, AFileCannotAskForEndlessWork) {
  const TempFolder dir;
  ASSERT_TRUE(SigningKey::make().save(dir / "k", Passphrase::of("p").value(), kCheap));
  auto greedy = read(dir / "k");
  greedy[14 + 4] = 1;  // 4 GiB of memory
  write(dir / "bad", greedy);
  EXPECT_EQ(SigningKey::load(dir / "bad", answer("p")).error().code, ErrorCode::bad_format);
  auto slow = read(dir / "k");
  slow[6 + 1] = 1;  // 257 passes
  write(dir / "bad", slow);
  EXPECT_EQ(SigningKey::load(dir / "bad", answer("p")).error().code, ErrorCode::bad_format);
  const auto cost = PassphraseCost{1, std::uint64_t{2} << 30};
  EXPECT_EQ(SigningKey::make().save(dir / "c", Passphrase::of("p").value(), cost).error().code,
            ErrorCode::invalid_argument);
}

TEST(Passphrase, HasAtLeastOneOctetAndAtMost1024) {
  EXPECT_FALSE(Passphrase::of(""));
  EXPECT_TRUE(Passphrase::of(std::string(1024, 'x')));
  EXPECT_FALSE(Passphrase::of(std::string(1025, 'x')));
  EXPECT_EQ(Passphrase::of("\xc3\xa4 b")->view(), "\xc3\xa4 b");
  std::string typed = "typed";
  const auto* where = typed.data();
  wipe(typed);
  EXPECT_TRUE(typed.empty());
  EXPECT_EQ(where[0], '\0');
}

TEST(SigningKeyFile, FromSystemdMayShowTheMaskOfAnAccessList) {
  const TempFolder dir;
  ASSERT_TRUE(SigningKey::make().save(dir / "k"));
  ::chmod((dir / "k").c_str(), 0440);
  EXPECT_EQ(SigningKey::load(dir / "k").error().code, ErrorCode::refused);
  ::setenv("CREDENTIALS_DIRECTORY", dir.path().c_str(), 1);
  EXPECT_TRUE(SigningKey::load(dir / "k"));
  ::chmod((dir / "k").c_str(), 0444);
  EXPECT_EQ(SigningKey::load(dir / "k").error().code, ErrorCode::refused);
  ::chmod((dir / "k").c_str(), 0460);
  EXPECT_EQ(SigningKey::load(dir / "k").error().code, ErrorCode::refused);
  ::unsetenv("CREDENTIALS_DIRECTORY");
}
}  // namespace
}  // namespace hb::sign
