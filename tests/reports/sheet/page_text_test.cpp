// The words of a page, and whether they contradict its record.
#include "reports/sheet/page_text.hpp"

#include "programs.hpp"
#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {
using Words = std::vector<std::string>;

TEST(PageText, OfHtmlIsWhatAReaderSees) {
  EXPECT_EQ(
      html_words(
          "<p>94&#160;% of&nbsp;it</p><script>no <b>1</b></script><style>x{}</style><!-- no -->a<b>1</b>")
          .value(),
      (Words{"94", "%", "of", "it", "a", "1"}));
  EXPECT_EQ(html_words("x &lt;b&gt; &amp;amp; &#91;1&#x5d; &unknown; &").value(),
            (Words{"x", "<b>", "&amp;", "[1]", "&unknown;", "&"}));
  EXPECT_EQ(html_words("\u2068left\u2069 to\u202fright").value(), (Words{"left", "to", "right"}));
  EXPECT_EQ(html_words("<unclosed").value(), Words{});
  EXPECT_EQ(html_language("<!DOCTYPE html>\n<html lang=\"de\">"), "de");
}

/// pdftotext is a program of others: its words, without regard to their order, are ours.
TEST(PageText, OfAPdfIsWhatAnotherReaderFinds) {
  NEED("pdftotext");
  for (const char* language : {"en", "de"}) {
    SealedSample s("petal_fold_dead");
    s.in.language = language;
    const auto pdf = s.pdf();
    const OnDisk disk(pdf);
    const auto theirs = run("pdftotext -raw " + disk.path("sheet.pdf") + " -").out;
    auto ours = pdf_words(pdf).value();
    std::string without_spaces;
    for (const auto& w : words_of(theirs)) without_spaces += w;
    std::size_t found = 0;
    for (const auto& w : ours) found += without_spaces.find(w) != std::string::npos;
    EXPECT_GT(ours.size(), 100U);
    EXPECT_GE(found * 100, ours.size() * 97) << found << " of " << ours.size();
    EXPECT_EQ(pdf_language(pdf), language);
  }
  EXPECT_FALSE(pdf_words("%PDF-1.7\nnothing"));
}

TEST(Contradiction, IsANumberOrAResultInThePlaceOfAnother) {
  const Words written{"Battery", "holds", "94",     "%",      "of",   "its",
                      "charge",  "The",   "screen", "Passed", "today"};
  const Words outcomes{"Passed", "Did not pass"};
  const auto with = [&](std::size_t at, Words other) {
    Words page = written;
    page.erase(page.begin() + static_cast<std::ptrdiff_t>(at));
    page.insert(page.begin() + static_cast<std::ptrdiff_t>(at), other.begin(), other.end());
    return contradiction(written, page, outcomes);
  };
  ASSERT_TRUE(with(2, {"49"}));
  EXPECT_EQ(with(2, {"49"})->page, "49");
  EXPECT_EQ(with(2, {"49"})->record, "94");
  EXPECT_FALSE(contradiction(written, written, outcomes));
  EXPECT_FALSE(with(2, {"94."})) << "the same digits";
  EXPECT_FALSE(with(2, {"94", "more"})) << "a word more is no other number";
  EXPECT_FALSE(with(2, {"ninety-four"}));
  EXPECT_FALSE(contradiction({"a", "b", "12", "34", "c", "d"}, {"a", "b", "1", "234", "c", "d"}, {}))
      << "divided otherwise";
  EXPECT_FALSE(with(8, {"display"})) << "a translation";
  EXPECT_FALSE(with(9, {"passed"}));
  EXPECT_FALSE(contradiction(written, {"94", "another", "page", "1", "2", "3"}, outcomes));
  EXPECT_FALSE(contradiction(written, {}, outcomes));
  EXPECT_FALSE(contradiction({}, written, outcomes));
}

/// A page of another record, with this one's record attached to it and saved by another program: what an
/// editor of PDFs leaves behind.
TEST(Contradiction, ShowsInAPageWhoseNumberWasEdited) {
  NEED("qpdf");
  SealedSample honest("petal_pass"), forged("petal_pass", honest.key);
  const auto written = pdf_words(customer_pdf(honest.record, honest.in).value()).value();
  const auto saved = [&](const SealedSample& page) {
    SheetInputs in = page.in;
    in.record_jws = honest.in.record_jws;
    const OnDisk disk(
        sign::seal(customer_pdf(page.record, in).value(), sign::FileKind::pdf, in.record_jws, honest.key)
            .value());
    EXPECT_EQ(run("qpdf --linearize --object-streams=generate " + disk.path("sheet.pdf") + " " +
                  disk.path("again.pdf"))
                  .status,
              0);
    return slurped(disk.path("again.pdf"));
  };
  EXPECT_FALSE(contradiction(written, pdf_words(saved(honest)).value(), outcome_words("en")));
  forged.record["outcome"] = "fail";
  forged.record["job"]["id"] = "J-20300101-0001";
  const auto c = contradiction(written, pdf_words(saved(forged)).value(), outcome_words("en"));
  EXPECT_TRUE(c);
}
}  // namespace
}  // namespace hb::sheet
