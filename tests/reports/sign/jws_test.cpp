#include <gtest/gtest.h>

#include "reports/sign/summary.hpp"
#include "tests/reports/record/small_record.hpp"

namespace hb::sign {
namespace {
SigningKey bench_key() { return SigningKey::from_seed(Bytes(32, 7)).value(); }
record::Record small_record() {
  auto r = testing_support::small_record();
  r.bench.key_id = bench_key().key_id();
  return r;
}
KeyRing ring_of(const SigningKey& k) {
  KeyRing ring;
  ring.add(k.public_key(), "bench 1");
  return ring;
}
/// A JWS over any header and payload, signed as its text says: only the header's content is on trial.
std::string with_header(std::string_view header, std::string_view payload, const SigningKey& key) {
  const auto text = base64url(as_bytes(header)) + "." + base64url(as_bytes(payload));
  return text + "." + base64url(key.sign(as_bytes(text)));
}

TEST(Jws, GivesBackTheExactBytesAndWhoseTheyAre) {
  const auto key = bench_key();
  const std::string payload("any\0bytes\xff", 10);
  const auto v = verify_jws(make_jws(payload, key), ring_of(key));
  ASSERT_TRUE(v);
  EXPECT_EQ(v->payload, payload);
  EXPECT_EQ(v->kid, key.key_id());
  EXPECT_TRUE(v->known);
  EXPECT_EQ(v->label, "bench 1");
}

TEST(Jws, OnlyOneHeaderIsAccepted) {
  const auto key = bench_key();
  const auto ring = ring_of(key);
  const std::string kid = R"("kid":")" + key.key_id() + "\"";
  ASSERT_TRUE(verify_jws(with_header(R"({"alg":"EdDSA",)" + kid + "}", "x", key), ring));
  const std::string headers[] = {
      R"({"alg":"none",)" + kid + "}",
      R"({"alg":"HS256",)" + kid + "}",
      R"({"alg":"eddsa",)" + kid + "}",
      R"({"alg":["EdDSA"],)" + kid + "}",
      "{" + kid + "}",
      R"({"alg":"EdDSA","crit":["exp"],"exp":1,)" + kid + "}",
      R"({"alg":"EdDSA","crit":[],)" + kid + "}",
      R"({"alg":"EdDSA","b64":false,)" + kid + "}",
      R"({"alg":"EdDSA","jwk":{},)" + kid + "}",
      R"({"alg":"EdDSA","kid":7})",
      R"({"alg":"EdDSA"})",                           // whose?
      "{" + kid + R"(,"alg":"EdDSA"})",               // not in canonical order
      R"({"alg": "EdDSA",)" + kid + "}",              // a space
      R"({"alg":"none","alg":"EdDSA",)" + kid + "}",  // a name twice
      R"({"alg":"EdDSA",)" + kid + "}\n",
      "[]",
      "null",
      "",
  };
  for (const auto& h : headers) EXPECT_FALSE(verify_jws(with_header(h, "x", key), ring)) << h;
}

TEST(Jws, OnlyOneTextIsAccepted) {
  const auto key = bench_key();
  const auto ring = ring_of(key);
  const auto good = make_jws("xx", key);  // 2 octets: 4 unused bits in the last payload character
  ASSERT_TRUE(verify_jws(good, ring));
  std::string bits = good;  // "eHg" -> "eHh": the same octets for a lenient decoder
  const auto at = bits.find(".eHg.");
  ASSERT_NE(at, std::string::npos);
  bits[at + 3] = 'h';
  const std::string rows[] = {bits,
                              good + "=",
                              good + ".",
                              good + " ",
                              "\n" + good,
                              good + "." + good,
                              "",
                              "..",
                              good.substr(0, good.rfind('.')),
                              good.substr(0, good.rfind('.') + 1),
                              good.substr(0, good.size() - 1),
                              good + "A"};
  for (const auto& r : rows) EXPECT_FALSE(verify_jws(r, ring)) << r;
}

TEST(Jws, AnotherKeysSignatureUnderThisKeysNameIsAltered) {
  const auto key = bench_key(), thief = SigningKey::make();
  const auto forged = with_header(R"({"alg":"EdDSA","kid":")" + key.key_id() + "\"}", "x", thief);
  EXPECT_EQ(verify_jws(forged, ring_of(key)).error().code, ErrorCode::altered);
  EXPECT_EQ(verify_jws(make_jws("x", thief), ring_of(key)).error().code, ErrorCode::unknown_key);
}

TEST(RecordJws, EveryChangedByteIsNoticed) {
  const auto key = bench_key();
  const auto ring = ring_of(key);
  const auto jws = sign_record(record::to_json(small_record()), key);
  ASSERT_TRUE(jws) << jws.error().message();
  ASSERT_TRUE(verify_record(*jws, ring));
  for (std::size_t i = 0; i < jws->size(); ++i)
    for (const char to : {'A', '_', '.'}) {
      auto bad = *jws;
      if (bad[i] == to) continue;
      bad[i] = to;
      EXPECT_FALSE(verify_record(bad, ring)) << "byte " << i << " to " << to;
    }
}

TEST(RecordJws, IsNotMadeOfWhatTheSchemaRefuses) {
  auto j = record::to_json(small_record());
  j["job"]["fault"] = "ring +49 170 1234567";
  const auto r = sign_record(j, bench_key());
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::privacy);
  // A good signature over something else is no record either.
  EXPECT_EQ(verify_record(make_jws("{}", bench_key()), ring_of(bench_key())).error().code,
            ErrorCode::altered);
  EXPECT_EQ(verify_record(make_jws(j.dump(), bench_key()), ring_of(bench_key())).error().code,
            ErrorCode::altered);
}

TEST(RecordJws, NamesTheKeyThatSignedIt) {
  const auto key = bench_key(), other = SigningKey::make();
  KeyRing both = ring_of(key);
  both.add(other.public_key(), "bench 2");
  const auto named = record::to_json(small_record());
  const auto refused = sign_record(named, other);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::invalid_argument);
  // The same record signed all the same, by a bench that the verifier trusts just as well.
  const auto forged = make_jws(record::canonical(named).value(), other);
  ASSERT_TRUE(verify_jws(forged, both));
  const auto v = verify_record(forged, both);
  ASSERT_FALSE(v);
  EXPECT_EQ(v.error().code, ErrorCode::altered);
  EXPECT_EQ(v.error().where, "/bench/key_id");
}

TEST(Summary, TiesAPaperSheetToOneRecord) {
  const auto key = bench_key();
  const auto jws = sign_record(record::to_json(small_record()), key).value();
  const auto qr = make_summary(jws, key);
  ASSERT_TRUE(qr) << qr.error().message();
  EXPECT_LT(qr->size(), 450U);  // stays a QR code that a phone reads from paper
  const auto v = verify_summary(*qr, ring_of(key));
  ASSERT_TRUE(v) << v.error().message();
  EXPECT_EQ(v->summary.job_id, "J-20261125-0001");
  EXPECT_EQ(v->summary.run_id, "01JDGZ0000ABCDEFGHJKMNPQRS");
  EXPECT_EQ(v->summary.outcome, "pass");
  EXPECT_EQ(v->summary.finished_utc, "2026-11-25T09:20:00Z");
  EXPECT_EQ(v->summary.phone_tail, "7K2Q");
  EXPECT_TRUE(belongs_to(v->summary, jws));
  auto other = small_record();
  other.outcome = checks::Outcome::fail;
  EXPECT_FALSE(belongs_to(v->summary, sign_record(record::to_json(other), key).value()));
  EXPECT_FALSE(verify_summary(jws, ring_of(key)));  // a signed record is no summary
  for (std::size_t i = 0; i < qr->size(); ++i) {
    auto bad = *qr;
    bad[i] = bad[i] == 'A' ? 'B' : 'A';
    EXPECT_FALSE(verify_summary(bad, ring_of(key))) << "byte " << i;
  }
}

}  // namespace
}  // namespace hb::sign
