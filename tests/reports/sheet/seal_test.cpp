// A sheet through its whole life: record signed, sheet written, sealed, checked, altered.
#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {

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
