// A sheet through its whole life: record signed, sheet written, sealed, checked, altered.
#include "reports/sign/certificate.hpp"
#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {

TEST(SealedSheet, CarriesTheCertificatesThatARootAloneCanBeCheckedWith) {
  const auto root = sign::SigningKey::make();
  SealedSample s("petal_pass");
  sign::Certificate c;
  c.key = s.key.public_key();
  c.label = "bench 1";
  c.until_s = 4102444800;  // 2100-01-01
  s.in.certificates = sign::certificate_slot({sign::certify(c, root).value()});
  for (const bool is_pdf : {false, true}) {
    const std::string sealed = is_pdf ? s.pdf() : s.html();
    sign::KeyRing ring;
    sign::add_vouched(ring, {{root.public_key()}, sign::certificates_in(sealed), {}});
    const auto record = is_pdf ? attached_record(sealed).value() : std::string();
    EXPECT_EQ(sign::verify_sealed(sealed, ring, record).status, sign::SealStatus::authentic);
    EXPECT_EQ(sign::verify_sealed(sealed, sign::KeyRing{}, record).status, sign::SealStatus::unknown_key);
  }
  s.in.certificates = "handback-certificates:[</script>]";
  EXPECT_EQ(customer_html(s.record, s.in).error().code, ErrorCode::invalid_argument);
}

TEST(SealedSheet, BothFormsAreAuthenticUntilAWordIsChanged) {
  for (const char* name : {"petal_pass", "petal_fold_dead", "plank_untested", "crowded"}) {
    const SealedSample s(name);
    sign::KeyRing ring;
    ring.add(s.key.public_key(), "bench");
    std::string html = s.html(), pdf = s.pdf();
    const std::string carried = attached_record(pdf).value();
    EXPECT_EQ(sign::verify_sealed(html, ring).status, sign::SealStatus::authentic) << name;
    EXPECT_EQ(sign::verify_sealed(pdf, ring, carried).status, sign::SealStatus::authentic) << name;

    const auto at = html.find("Batter");
    html[at] = 'b';
    (pdf)[pdf.size() / 2] ^= 1;
    EXPECT_EQ(sign::verify_sealed(html, ring).status, sign::SealStatus::altered) << name;
    EXPECT_EQ(sign::verify_sealed(pdf, ring, carried).status, sign::SealStatus::altered) << name;
  }
}
}  // namespace
}  // namespace hb::sheet
