#include "reports/sign/certificate.hpp"

#include <gtest/gtest.h>

#include "reports/record/utc.hpp"
#include "reports/sign/seal.hpp"
#include "tests/reports/record/small_record.hpp"

namespace hb::sign {
namespace {
SigningKey key(std::uint8_t seed) { return SigningKey::from_seed(Bytes(32, seed)).value(); }
const SigningKey root = key(1), next_root = key(2), thief_root = key(3), bench = key(7);

std::int64_t at(std::string_view utc) { return record::utc_seconds(utc).value(); }
// The run of small_record was finished at 2026-11-25T09:20:00Z.
constexpr const char* kFinished = "2026-11-25T09:20:00Z";

std::string certificate(const SigningKey& subject, const SigningKey& by,
                        std::string_view from = "2026-01-01T00:00:00Z",
                        std::string_view until = "2027-01-01T00:00:00Z",
                        Certificate::Kind kind = Certificate::Kind::bench,
                        std::string_view issued = "2026-01-01T00:00:00Z") {
  Certificate c;
  c.kind = kind;
  c.key = subject.public_key();
  c.label = "bench 1";
  c.issued_s = at(issued);
  c.from_s = at(from);
  c.until_s = at(until);
  return certify(c, by).value();
}
std::string root_confirmed(const SigningKey& subject, const SigningKey& by,
                           std::string_view issued = "2026-01-01T00:00:00Z") {
  return certificate(subject, by, "2026-01-01T00:00:00Z", "2030-01-01T00:00:00Z", Certificate::Kind::root,
                     issued);
}
std::string revoked(const SigningKey& who, const SigningKey& by, std::string_view since,
                    std::int64_t number = 1) {
  return make_revocation_list({"", at(since), number, {{who.key_id(), at(since), "stolen"}}}, by).value();
}
std::string sealed_page(const SigningKey& record_key = bench, const SigningKey& seal_key = bench) {
  auto r = testing_support::small_record();
  r.bench.key_id = record_key.key_id();
  const auto jws = sign_record(record::to_json(r), record_key).value();
  return seal("<p>Pass</p>" + record_slot(jws) + empty_seal_slot(), FileKind::html, jws, seal_key).value();
}
SealStatus verdict(const Vouching& by, const std::string& page = sealed_page()) {
  KeyRing ring;
  add_vouched(ring, by);
  return verify_sealed(page, ring).status;
}

TEST(Certificate, SaysWhoseKeyItIsAndFromWhenToWhen) {
  const auto c = read_certificate(certificate(bench, root), root.public_key());
  ASSERT_TRUE(c) << c.error().message();
  EXPECT_EQ(c->key, bench.public_key());
  EXPECT_EQ(c->kind, Certificate::Kind::bench);
  EXPECT_EQ(c->issuer, root.key_id());
  EXPECT_EQ(c->label, "bench 1");
  EXPECT_EQ(c->serial.size(), 22U);
  EXPECT_EQ(c->from_s, at("2026-01-01T00:00:00Z"));
  EXPECT_EQ(c->until_s, at("2027-01-01T00:00:00Z"));
  const auto other = read_certificate(certificate(bench, root), root.public_key());
  EXPECT_NE(c->serial, other->serial);
}

TEST(Certificate, EveryChangedByteIsNoticed) {
  const auto good = certificate(bench, root);
  for (std::size_t i = 0; i < good.size(); ++i) {
    auto bad = good;
    bad[i] = bad[i] == 'A' ? 'B' : 'A';
    EXPECT_FALSE(read_certificate(bad, root.public_key())) << "byte " << i;
  }
}

TEST(Certificate, IsNotReadOutOfAnythingElseThatTheRootSigned) {
  const std::string jwk = R"({"jwk":)" + bench.public_key().jwk() + "}";
  const auto claims = [&](std::string_view cnf, std::string_view exp, std::string_view rest) {
    return R"({"cnf":)" + std::string(cnf) + R"(,"exp":)" + std::string(exp) + R"(,"iat":5,"iss":")" +
           root.key_id() + R"(","jti":"s","label":"b","nbf":6,"sub":")" + bench.key_id() + "\"" +
           std::string(rest) + "}";
  };
  const auto typ = "handback-bench+jwt";
  ASSERT_TRUE(read_certificate(make_jws(claims(jwk, "7", ""), root, typ), root.public_key()));
  const std::string secret = R"({"jwk":{"crv":"Ed25519","d":"x","kty":"OKP","x":"y"}})";
  const struct {
    const char* situation;
    std::string payload;
    std::string typ;
  } rows[] = {{"no type", claims(jwk, "7", ""), ""},
              {"a revocation list's type", claims(jwk, "7", ""), "handback-revoked+jwt"},
              {"ends before it starts", claims(jwk, "6", ""), typ},
              {"a negative time", claims(jwk, "-7", ""), typ},
              {"a time that is no whole number", claims(jwk, "7.5", ""), typ},
              {"a time as text", claims(jwk, "\"7\"", ""), typ},
              {"one claim more", claims(jwk, "7", R"(,"zzz":1)"), typ},
              {"a private key inside", claims(secret, "7", ""), typ},
              {"no key inside", claims("{}", "7", ""), typ},
              {"the key of another than sub says",
               claims(R"({"jwk":)" + root.public_key().jwk() + "}", "7", ""), typ},
              {"not canonical", " " + claims(jwk, "7", ""), typ},
              {"an empty object", "{}", typ},
              {"a list", "[]", typ},
              {"no JSON", "hello", typ}};
  for (const auto& r : rows)
    EXPECT_FALSE(read_certificate(make_jws(r.payload, root, r.typ), root.public_key())) << r.situation;
  // And a certificate is no record, no seal, no summary.
  KeyRing ring;
  ring.add(root.public_key());
  EXPECT_EQ(verify_jws(certificate(bench, root), ring).error().code, ErrorCode::refused);
}

TEST(Certificate, IsNotMadeWithTermsThatCannotBeRead) {
  Certificate c;
  c.key = bench.public_key();
  c.from_s = 10, c.until_s = 20;
  EXPECT_TRUE(certify(c, root));
  for (const auto& [from, until, label] : {std::tuple<int, int, const char*>{20, 20, ""},
                                           {-1, 20, ""},
                                           {10, 20, "a\nb"},
                                           {10, 20, "a\x1b[31m"},
                                           {10, 20, "a\u009b31m"},
                                           {10, 20, "a\u202e1 hcneb"},
                                           {10, 20, "bench\u200b"}}) {
    c.from_s = from, c.until_s = until, c.label = label;
    EXPECT_FALSE(certify(c, root));
  }
}

TEST(ShopRoot, OneTrustedRootIsEnoughForASheetOfItsBench) {
  const auto c = certificate(bench, root);
  EXPECT_EQ(verdict({{root.public_key()}, {c}, {}}), SealStatus::authentic);
  EXPECT_EQ(verdict({{root.public_key()}, {}, {}}), SealStatus::unknown_key);
  EXPECT_EQ(verdict({{}, {c}, {}}), SealStatus::unknown_key);
  EXPECT_EQ(verdict({{thief_root.public_key()}, {c}, {}}), SealStatus::unknown_key);
  // A certificate that another root made, under this root's name or its own, confirms nothing.
  EXPECT_EQ(verdict({{root.public_key()}, {certificate(bench, thief_root)}, {}}), SealStatus::unknown_key);
}

TEST(ShopRoot, TheTimeOfTheRunDecidesWhetherACertificateCovers) {
  const struct {
    const char *from, *until;
    SealStatus status;
  } rows[] = {{"2026-11-25T09:20:00Z", "2026-11-25T09:20:01Z", SealStatus::authentic},
              {"2026-11-25T09:20:01Z", "2027-01-01T00:00:00Z", SealStatus::unknown_key},
              {"2026-01-01T00:00:00Z", "2026-11-25T09:20:00Z", SealStatus::unknown_key},
              {"1970-01-01T00:00:00Z", "9999-12-31T23:59:59Z", SealStatus::authentic}};
  for (const auto& r : rows)
    EXPECT_EQ(verdict({{root.public_key()}, {certificate(bench, root, r.from, r.until)}, {}}), r.status)
        << r.from << " " << r.until;
  // Renewed: the run lies in the gap, or in the second.
  const auto before = certificate(bench, root, "2026-01-01T00:00:00Z", "2026-11-01T00:00:00Z");
  const auto gap = certificate(bench, root, "2026-12-01T00:00:00Z", "2027-12-01T00:00:00Z");
  const auto covers = certificate(bench, root, "2026-11-01T00:00:00Z", "2027-12-01T00:00:00Z");
  EXPECT_EQ(verdict({{root.public_key()}, {before, gap}, {}}), SealStatus::unknown_key);
  EXPECT_EQ(verdict({{root.public_key()}, {before, covers}, {}}), SealStatus::authentic);
}

TEST(ShopRoot, ARevokedKeyKeepsItsWordForWhatWasFinishedBefore) {
  const auto c = certificate(bench, root);
  const auto with = [&](std::vector<std::string> lists) {
    return verdict({{root.public_key()}, {c}, std::move(lists)});
  };
  EXPECT_EQ(with({revoked(bench, root, "2026-11-25T09:20:01Z")}), SealStatus::authentic);
  EXPECT_EQ(with({revoked(bench, root, kFinished)}), SealStatus::revoked_key);
  EXPECT_EQ(with({revoked(bench, root, "2026-11-01T00:00:00Z")}), SealStatus::revoked_key);
  // An older or a later list with another date does not lift it.
  EXPECT_EQ(with({revoked(bench, root, "2026-11-01T00:00:00Z", 1),
                  revoked(bench, root, "2028-01-01T00:00:00Z", 2)}),
            SealStatus::revoked_key);
  EXPECT_EQ(with({revoked(bench, thief_root, "2026-11-01T00:00:00Z")}), SealStatus::authentic);
  EXPECT_EQ(with({revoked(key(8), root, "2026-11-01T00:00:00Z")}), SealStatus::authentic);
  EXPECT_EQ(with({"", "a.b.c", c}), SealStatus::authentic);
}

TEST(ShopRoot, AChangedRootIsFollowedBothWays) {
  const auto old_bench = certificate(bench, root), new_bench = certificate(bench, next_root);
  // The customer has the old root's key; the sheet was made after the change, and the other way round.
  EXPECT_EQ(verdict({{root.public_key()}, {new_bench, root_confirmed(next_root, root)}, {}}),
            SealStatus::authentic);
  EXPECT_EQ(verdict({{next_root.public_key()}, {root_confirmed(root, next_root), old_bench}, {}}),
            SealStatus::authentic);
  EXPECT_EQ(verdict({{root.public_key()}, {new_bench}, {}}), SealStatus::unknown_key);
  // A bench is no root: what it signs with a root's type confirms nothing.
  EXPECT_EQ(verdict({{root.public_key()},
                     {certificate(key(9), root), root_confirmed(next_root, key(9)), new_bench},
                     {}}),
            SealStatus::unknown_key);
  // Roots that confirm each other in a circle come to an end.
  EXPECT_EQ(verdict({{root.public_key()},
                     {root_confirmed(next_root, root), root_confirmed(root, next_root), new_bench},
                     {}}),
            SealStatus::authentic);
}

TEST(ShopRoot, ARevokedRootConfirmsNothingThatItIssuedLater) {
  const auto list = revoked(root, next_root, "2026-06-01T00:00:00Z");
  const auto link = root_confirmed(root, next_root);
  const auto before = certificate(bench, root);
  const auto after = certificate(bench, root, "2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z",
                                 Certificate::Kind::bench, "2026-06-01T00:00:00Z");
  EXPECT_EQ(verdict({{next_root.public_key()}, {link, before}, {list}}), SealStatus::authentic);
  EXPECT_EQ(verdict({{next_root.public_key()}, {link, after}, {list}}), SealStatus::unknown_key);
  EXPECT_EQ(verdict({{next_root.public_key()}, {link, after}, {}}), SealStatus::authentic);
}

TEST(ShopRoot, ASheetWrittenAgainWithTheNextKeyOfTheBenchIsAuthentic) {
  const auto next = key(8);
  const auto page = sealed_page(bench, next);
  const auto old_one = certificate(bench, root, "2026-01-01T00:00:00Z", "2026-12-01T00:00:00Z");
  const auto new_one = certificate(next, root, "2026-12-01T00:00:00Z", "2027-12-01T00:00:00Z");
  EXPECT_EQ(verdict({{root.public_key()}, {old_one, new_one}, {}}, page), SealStatus::authentic);
  EXPECT_EQ(verdict({{root.public_key()}, {new_one}, {}}, page), SealStatus::unknown_key);
  EXPECT_EQ(verdict({{root.public_key()}, {old_one}, {}}, page), SealStatus::unknown_key);
}

TEST(RevocationList, IsMergedByKeyAndTheEarliestDateCounts) {
  using Entry = RevocationList::Entry;
  const auto merged =
      merge_revoked({{"b", 9, "lost"}, {"a", 5, "retired"}, {"b", 3, "stolen"}, {"a", 5, "lost"}});
  ASSERT_EQ(merged.size(), 2U);
  EXPECT_EQ(merged[0].kid, "a");
  EXPECT_EQ(merged[0].reason, "retired");
  EXPECT_EQ(merged[1].since_s, 3);
  EXPECT_EQ(merged[1].reason, "stolen");
  const struct {
    const char* situation;
    std::vector<Entry> known, list;
    std::vector<std::string> lost;
  } rows[] = {
      {"nothing known", {}, {{"a", 1, "lost"}}, {}},
      {"the same", {{"a", 1, "lost"}}, {{"a", 1, "lost"}}, {}},
      {"an earlier date", {{"a", 5, "lost"}}, {{"a", 1, "lost"}}, {}},
      {"a later date", {{"a", 1, "lost"}}, {{"a", 5, "lost"}}, {"a"}},
      {"a key less", {{"a", 1, "lost"}, {"b", 1, "lost"}}, {{"b", 1, "lost"}, {"c", 1, "lost"}}, {"a"}},
      {"an empty list", {{"a", 1, "lost"}}, {}, {"a"}}};
  for (const auto& r : rows) EXPECT_EQ(lost_revocations(r.known, r.list), r.lost) << r.situation;
}

TEST(CertificateSlot, GivesBackWhatWasPutIn) {
  EXPECT_EQ(certificate_slot({}), "");
  EXPECT_EQ(certificates_in("x" + certificate_slot({"a.b.c", "d.e.f"}) + "y"),
            (std::vector<std::string>{"a.b.c", "d.e.f"}));
  const auto one = certificate_slot({"a.b.c"});
  for (const auto& none : {std::string("nothing"), one + one, one.substr(0, one.size() - 1)})
    EXPECT_TRUE(certificates_in(none).empty()) << none;
}
}  // namespace
}  // namespace hb::sign
