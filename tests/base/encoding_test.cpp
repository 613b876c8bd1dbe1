#include "harness/base/encoding.hpp"

#include <gtest/gtest.h>

namespace hb {
namespace {

TEST(Base64, AsInRfc4648Section10) {
  const struct {
    const char *plain, *encoded, *url;
  } rows[] = {{"", "", ""},
              {"f", "Zg==", "Zg"},
              {"fo", "Zm8=", "Zm8"},
              {"foo", "Zm9v", "Zm9v"},
              {"foob", "Zm9vYg==", "Zm9vYg"},
              {"fooba", "Zm9vYmE=", "Zm9vYmE"},
              {"foobar", "Zm9vYmFy", "Zm9vYmFy"}};
  for (const auto& r : rows) {
    EXPECT_EQ(base64(as_bytes(r.plain)), r.encoded);
    EXPECT_EQ(base64url(as_bytes(r.plain)), r.url);
    const auto back = from_base64url(r.url);
    ASSERT_TRUE(back);
    EXPECT_EQ(as_text(*back), r.plain);
  }
  EXPECT_EQ(base64url(Bytes{0xfb, 0xff}), "-_8");
}

TEST(Base64Url, OneTextForOneValue) {
  for (const std::string_view bad :
       {"Zg==", "Zh", "Zm9", "Z", "Zm 8", "Zm8\n", "Zm+v", "Zm/v", "Zm9v=", "\xc3\xa4"})
    EXPECT_FALSE(from_base64url(bad)) << bad;
}

TEST(Hex, IsLowerCaseAndWhole) {
  EXPECT_EQ(hex(Bytes{0x00, 0xab, 0xff}), "00abff");
  EXPECT_EQ(from_hex("00abff").value(), (Bytes{0x00, 0xab, 0xff}));
  EXPECT_TRUE(from_hex("").value().empty());
  for (const std::string_view bad : {"0", "0g", "AB", "0x00", " 00", "00 ", "00:ab"})
    EXPECT_FALSE(from_hex(bad)) << bad;
}

TEST(Sha256, ExamplesOfFips180) {
  const struct {
    std::string message;
    const char* digest;
  } rows[] = {
      {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
      {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
      {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
       "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
      {std::string(1000000, 'a'), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"}};
  for (const auto& r : rows) EXPECT_EQ(hex(sha256(as_bytes(r.message))), r.digest);
}

}  // namespace
}  // namespace hb
