// Typed texts as salted hashes (RFC 9901): what one reader accepts, and what a foreign one reads.
#include <gtest/gtest.h>
#include <stdlib.h>

#include <algorithm>
#include <fstream>

#include "harness/base/text.hpp"
#include "reports/sign/summary.hpp"
#include "tests/reports/record/small_record.hpp"
#include "tests/reports/record/temp_folder.hpp"

namespace hb::sign {
namespace {
using nlohmann::json;

SigningKey key() { return SigningKey::from_seed(Bytes(32, 7)).value(); }
KeyRing ring() {
  KeyRing r;
  r.add(key().public_key());
  return r;
}
/// Five texts: four of the job, and why a check was waived.
json record() {
  auto r = testing_support::small_record();
  r.bench.key_id = key().key_id();
  auto waived = r.checks[0];
  waived.id = "speaker";
  waived.outcome = checks::Outcome::waived;
  waived.reason = "the customer asked for it";
  r.checks.push_back(waived);
  return record::to_json(r);
}
/// The JWS, then each disclosure.
std::vector<std::string> pieces(const std::string& text) {
  std::vector<std::string> out;
  for (const auto p : split(text, '~')) out.emplace_back(p);
  out.pop_back();
  return out;
}
std::string joined(const std::vector<std::string>& pieces) {
  std::string out;
  for (const auto& p : pieces) (out += p) += '~';
  return out;
}

TEST(Disclosure, TheTextsAreNotInWhatIsSignedAndComeBackWhole) {
  const auto text = sign_record(record(), key()).value();
  const auto v = verify_record(text, ring());
  ASSERT_TRUE(v) << v.error().message();
  EXPECT_EQ(v->record, record());
  EXPECT_TRUE(v->erased.empty());
  EXPECT_EQ(pieces(text).size(), 6U);
  for (const char* word : {"display black", "LOT-24K7", "display-hinge swap", "customer asked"})
    EXPECT_EQ(v->signature.payload.find(word), std::string::npos) << word;
  EXPECT_NE(sign_record(record(), key()).value(), text) << "salts are fresh each time";
}

TEST(Disclosure, AnyOfTheTextsMayBeGoneAndTheSignatureHolds) {
  const auto whole = pieces(sign_record(record(), key()).value());
  const auto summary = make_summary(joined(whole), key()).value();
  const std::vector<std::string> pointers = {"/job/colour", "/job/fault", "/job/parts", "/job/repair",
                                             "/checks/1/reason"};
  for (unsigned kept = 0; kept < 32; ++kept) {
    std::vector<std::string> some{whole[0]}, gone;
    auto expected = record();
    for (std::size_t i = 0; i < 5; ++i)
      if ((kept >> i & 1U) != 0) {
        some.push_back(whole[i + 1]);
      } else {
        gone.push_back(pointers[i]);
        const json::json_pointer p(pointers[i]);
        expected[p.parent_pointer()].erase(p.back());
      }
    const auto v = verify_record(joined(some), ring());
    ASSERT_TRUE(v) << kept << v.error().message();
    EXPECT_EQ(v->record, expected);
    EXPECT_EQ(v->erased, gone);
    EXPECT_TRUE(belongs_to(verify_summary(summary, ring())->summary, joined(some)))
        << "the paper's code stays good";
  }
}

TEST(Disclosure, OneRecordHasOneText) {
  const auto p = pieces(sign_record(record(), key()).value());
  const auto other = pieces(sign_record(record(), key()).value());
  const auto made = [&](std::string_view array) { return base64url(as_bytes(array)); };
  const auto inside = from_base64url(p[2]).value();
  const std::string fault(as_text(inside));
  std::string spaced = fault;
  spaced.insert(1, " ");
  std::string changed = fault;
  changed[changed.find("black")] = 'p';
  const struct {
    const char* situation;
    std::string text;
  } rows[] = {
      {"no '~' at the end", joined(p).substr(0, joined(p).size() - 1)},
      {"the signature alone", p[0]},
      {"a '~' more", joined(p) + "~"},
      {"a '~' less", p[0] + "~" + p[1] + p[2] + "~" + p[3] + "~" + p[4] + "~" + p[5] + "~"},
      {"two swapped", joined({p[0], p[2], p[1], p[3], p[4], p[5]})},
      {"the check's before the job's", joined({p[0], p[5], p[1], p[2], p[3], p[4]})},
      {"one twice", joined({p[0], p[1], p[1], p[2], p[3], p[4], p[5]})},
      {"one of another signature", joined({p[0], p[1], other[2], p[3], p[4], p[5]})},
      {"another text", joined({p[0], p[1], made(changed), p[3], p[4], p[5]})},
      {"the same array with a space", joined({p[0], p[1], made(spaced), p[3], p[4], p[5]})},
      {"a padded one", joined({p[0], p[1], p[2] + "=", p[3], p[4], p[5]})},
      {"something after it", joined(p) + "x"},
      {"a key binding after it", joined(p) + p[0]},
      {"texts without a signature", joined({"", p[1]})},
      {"texts of a record of the old form",
       joined({make_jws(record::canonical(record()).value(), key()), p[1]})},
      {"no texts of a record of the old form", make_jws(record::canonical(record()).value(), key()) + "~"},
  };
  ASSERT_TRUE(verify_record(joined(p), ring()));
  for (const auto& r : rows) {
    const auto v = verify_record(r.text, ring());
    EXPECT_FALSE(v) << r.situation;
  }
}

/// Payloads that this program would not sign, signed all the same.
TEST(Disclosure, TheHashesHaveOneForm) {
  const auto good = record::conceal(record(), random_salt).value();
  const auto digest = good.payload["job"]["_sd"][0];
  const std::string other(43, 'A');
  const struct {
    const char* situation;
    const char* pointer;
    json value;
  } rows[] = {
      {"another kind of hash", "/_sd_alg", "sha-512"},
      {"hashes twice", "/job/_sd", {digest, digest, digest, digest}},
      {"one missing", "/job/_sd", {digest}},
      {"no list", "/job/_sd", "x"},
      {"hash of a wrong length", "/job/_sd/0", "AAAA"},
      {"not in order", "/job/_sd/3", other},
      {"a text in the open as well", "/job/fault", "display black"},
      {"hashes where none belong", "/bench/_sd", {digest}},
      {"a hash of a text of another place", "/checks/1/_sd/0", digest},
  };
  for (const auto& r : rows) {
    auto payload = good.payload;
    payload[json::json_pointer(r.pointer)] = r.value;
    const auto text = make_jws(record::canonical(payload).value(), key()) + "~" + good.disclosures;
    EXPECT_FALSE(verify_record(text, ring())) << r.situation;
  }
  EXPECT_TRUE(verify_record(make_jws(record::canonical(good.payload).value(), key()) + "~" + good.disclosures,
                            ring()));
}

TEST(Disclosure, WhatWasSignedBeforeStaysGood) {
  const auto v = verify_record(make_jws(record::canonical(record()).value(), key()), ring());
  ASSERT_TRUE(v) << v.error().message();
  EXPECT_EQ(v->record, record());
}

TEST(Disclosure, ARecordWithATextErasedIsNotSignedAgain) {
  auto r = record();
  r["job"].erase("fault");
  EXPECT_EQ(sign_record(r, key()).error().where, "/job/fault");
  EXPECT_EQ(sign_concealed(record(), key(), [] { return Bytes(8, 1); }).error().code,
            ErrorCode::invalid_argument);
}

/// A second implementation of RFC 9901 reads the text with all, some and none of its disclosures.
TEST(Disclosure, AForeignReaderVerifiesTheTextWithAllSomeAndNoneOfIt) {
  const std::string dir = std::string(HB_SOURCE_DIR) + "/tests/reports/jose";
  if (::system("node --version >/dev/null 2>&1") != 0 ||
      !std::filesystem::exists(dir + "/node_modules/@sd-jwt/core"))
    GTEST_SKIP() << "node or @sd-jwt/core is not installed";
  const testing_support::TempFolder folder;
  const auto write = [&](const char* name, const std::string& bytes) {
    std::ofstream(folder / name, std::ios::binary) << bytes;
  };
  write("key.jwk", key().public_key().jwk());
  const auto read = [&](const std::string& text) {
    write("text", text);
    const auto at = [&](const char* n) { return " '" + (folder / n).string() + "'"; };
    const auto code = ::system(
        ("node '" + dir + "/disclose.mjs'" + at("text") + at("key.jwk") + " >" + at("out") + " 2>/dev/null")
            .c_str());
    std::ifstream in(folder / "out");
    return code == 0 ? json::parse(in, nullptr, false) : json();
  };
  const auto p = pieces(sign_record(record(), key()).value());
  EXPECT_EQ(read(joined(p)), record());
  for (const auto& some : {joined({p[0], p[2], p[5]}), joined({p[0]})})
    EXPECT_EQ(read(some), verify_record(some, ring())->record);
  auto damaged = p;
  damaged[0][damaged[0].size() / 2] ^= 1;
  EXPECT_TRUE(read(joined(damaged)).is_null());
}

}  // namespace
}  // namespace hb::sign
