#include "reports/sign/seal.hpp"

#include <gtest/gtest.h>

#include "tests/reports/record/small_record.hpp"

namespace hb::sign {
namespace {
SigningKey bench_key() { return SigningKey::from_seed(Bytes(32, 7)).value(); }
record::Record small_record() {
  auto r = testing_support::small_record();
  r.bench.key_id = bench_key().key_id();
  return r;
}
KeyRing ring_of(const SigningKey& k, std::string revoked = {}, bool vouched = true) {
  KeyRing ring;
  ring.add({k.public_key(), "bench 1", std::move(revoked), vouched});
  return ring;
}
/// One signature of it: each has salts of its own.
const std::string& record_jws() {
  static const auto text = sign_record(record::to_json(small_record()), bench_key()).value();
  return text;
}
std::string page(const std::string& jws) {
  return "<!doctype html><p>Pass</p><!--" + record_slot(jws) + "--><!--" + empty_seal_slot() + "-->\n";
}
std::string sealed_page() {
  return seal(page(record_jws()), FileKind::html, record_jws(), bench_key()).value();
}
std::string pdf() { return "%PDF-1.7\n% " + empty_seal_slot() + "\n(Pass)\n%%EOF\n"; }

TEST(Seal, APageIsAuthenticAndCarriesItsRecord) {
  const auto file = sealed_page();
  EXPECT_EQ(file.size(), page(record_jws()).size());
  const auto v = verify_sealed(file, ring_of(bench_key()));
  EXPECT_EQ(v.status, SealStatus::authentic) << v.says;
  EXPECT_EQ(v.record_jws, record_jws());
  EXPECT_EQ(v.record["job"]["id"], "J-20261125-0001");
  EXPECT_EQ(v.kid, bench_key().key_id());
}

TEST(Seal, EveryChangedByteOfAPageIsNoticed) {
  const auto file = sealed_page();
  const auto ring = ring_of(bench_key());
  for (std::size_t i = 0; i < file.size(); ++i)
    for (const int change : {1, 0x20}) {
      auto bad = file;
      bad[i] = static_cast<char>(bad[i] ^ change);
      EXPECT_NE(verify_sealed(bad, ring).status, SealStatus::authentic) << "byte " << i;
    }
}

TEST(Seal, NothingCanBeAddedOrTakenAway) {
  const auto file = sealed_page();
  const auto ring = ring_of(bench_key());
  const auto slot_end = file.find(']', file.find(kSealMarker));
  const std::string rows[] = {file + " ",
                              " " + file,
                              file.substr(0, file.size() - 1),
                              file + empty_seal_slot(),
                              file + record_slot(record_jws()),
                              std::string(file).insert(slot_end, "."),
                              std::string(file).erase(slot_end - 1, 1),
                              page(record_jws()),
                              "",
                              std::string(kSealMarker),
                              std::string(kSealMarker) + "x]"};
  for (const auto& r : rows) {
    const auto v = verify_sealed(r, ring);
    EXPECT_EQ(v.status, SealStatus::altered) << r.size();
    EXPECT_TRUE(v.record.is_null());
    EXPECT_FALSE(v.says.empty());
  }
}

TEST(Seal, ARecordOfAnotherPhoneCannotBeSlippedIn) {
  auto other = small_record();
  other.run_id[0] = 'Z';
  const auto other_jws = sign_record(record::to_json(other), bench_key()).value();
  auto file = sealed_page();
  const auto at = file.find(record_jws());
  ASSERT_EQ(other_jws.size(), record_jws().size());
  file.replace(at, other_jws.size(), other_jws);
  EXPECT_EQ(verify_sealed(file, ring_of(bench_key())).status, SealStatus::altered);
}

TEST(Seal, APdfIsCheckedWithItsAttachment) {
  const auto ring = ring_of(bench_key());
  const auto file = seal(pdf(), FileKind::pdf, record_jws(), bench_key());
  ASSERT_TRUE(file) << file.error().message();
  EXPECT_EQ(verify_sealed(*file, ring, record_jws()).status, SealStatus::authentic);
  EXPECT_EQ(verify_sealed(*file, ring).status, SealStatus::altered);  // the attachment is gone
  auto other = small_record();
  other.outcome = checks::Outcome::fail;
  EXPECT_EQ(verify_sealed(*file, ring, sign_record(record::to_json(other), bench_key()).value()).status,
            SealStatus::altered);
  for (std::size_t i = 0; i < file->size(); ++i) {
    auto bad = *file;
    bad[i] = static_cast<char>(bad[i] ^ 1);
    EXPECT_NE(verify_sealed(bad, ring, record_jws()).status, SealStatus::authentic) << "byte " << i;
  }
}

TEST(Seal, WhoVouchesDecides) {
  const auto file = sealed_page();
  const auto nobody = verify_sealed(file, KeyRing{});
  EXPECT_EQ(nobody.status, SealStatus::unknown_key);
  EXPECT_FALSE(nobody.signatures_hold);
  const auto itself = verify_sealed(file, ring_of(bench_key(), "", false));
  EXPECT_EQ(itself.status, SealStatus::unknown_key);
  EXPECT_TRUE(itself.signatures_hold);
  // The run was finished at 2026-11-25T09:20:00Z.
  EXPECT_EQ(verify_sealed(file, ring_of(bench_key(), "2026-11-25T09:20:00Z")).status,
            SealStatus::revoked_key);
  const auto later = verify_sealed(file, ring_of(bench_key(), "2026-11-25T09:20:01Z"));
  EXPECT_EQ(later.status, SealStatus::authentic);
  EXPECT_EQ(later.revoked_utc, "2026-11-25T09:20:01Z");
}

TEST(Seal, IsRefusedForAFileThatCouldBeReadTwoWays) {
  const auto jws = record_jws();
  const auto key = bench_key();
  const struct {
    const char* situation;
    std::string file;
    FileKind kind;
  } rows[] = {{"no slot", "<p>" + record_slot(jws), FileKind::html},
              {"two slots", page(jws) + empty_seal_slot(), FileKind::html},
              {"slot too short", record_slot(jws) + "handback-seal:[...]", FileKind::html},
              {"already sealed", sealed_page(), FileKind::html},
              {"no record", empty_seal_slot(), FileKind::html},
              {"two records", page(jws) + record_slot(jws), FileKind::html},
              {"another record", page(jws + "x"), FileKind::html},
              {"a page called a PDF", page(jws), FileKind::pdf},
              {"a PDF called a page", pdf(), FileKind::html}};
  for (const auto& r : rows) EXPECT_FALSE(seal(r.file, r.kind, jws, key)) << r.situation;
}

}  // namespace
}  // namespace hb::sign
