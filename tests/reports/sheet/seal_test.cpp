// A sheet through its whole life: record signed, sheet written, sealed, checked, altered.
#include "reports/sign/seal.hpp"
#include "reports/sign/summary.hpp"
#include "samples.hpp"

namespace hb::sheet {
namespace {

struct Signed {
  sign::SigningKey key = sign::SigningKey::make();
  SheetInputs in;
  nlohmann::json record;
};

Signed signed_sample(const std::string& name) {
  Signed s;
  s.record = sample(name);
  s.record["bench"]["key_id"] = s.key.key_id();
  const auto jws = sign::sign_record(s.record, s.key);
  EXPECT_TRUE(jws) << jws.error().message();
  s.in.record_jws = jws.value();
  s.in.seal_slot = sign::empty_seal_slot();
  s.in.qr_text = sign::make_summary(s.in.record_jws, s.key).value();
  return s;
}

TEST(SealedSheet, BothFormsAreAuthenticUntilAWordIsChanged) {
  for (const char* name : {"petal_pass", "petal_fold_dead", "plank_untested", "crowded"}) {
    const Signed s = signed_sample(name);
    sign::KeyRing ring;
    ring.add(s.key.public_key(), "bench");
    const auto html = customer_html(s.record, s.in);
    const auto pdf = customer_pdf(s.record, s.in);
    ASSERT_TRUE(html && pdf) << name;
    auto sealed_html = sign::seal(*html, sign::FileKind::html, s.in.record_jws, s.key);
    auto sealed_pdf = sign::seal(*pdf, sign::FileKind::pdf, s.in.record_jws, s.key);
    ASSERT_TRUE(sealed_html) << sealed_html.error().message();
    ASSERT_TRUE(sealed_pdf) << sealed_pdf.error().message();
    const std::string carried = attached_record(*sealed_pdf).value();
    EXPECT_EQ(sign::verify_sealed(*sealed_html, ring).status, sign::SealStatus::authentic) << name;
    EXPECT_EQ(sign::verify_sealed(*sealed_pdf, ring, carried).status, sign::SealStatus::authentic) << name;

    const auto at = sealed_html->find("Batter");
    (*sealed_html)[at] = 'b';
    (*sealed_pdf)[sealed_pdf->size() / 2] ^= 1;
    EXPECT_EQ(sign::verify_sealed(*sealed_html, ring).status, sign::SealStatus::altered) << name;
    EXPECT_EQ(sign::verify_sealed(*sealed_pdf, ring, carried).status, sign::SealStatus::altered) << name;
  }
}
}  // namespace
}  // namespace hb::sheet
