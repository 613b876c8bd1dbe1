// The PDF: one page, readable by other programs, and carrying the signed bytes.
#include <algorithm>

#include "programs.hpp"
#include "samples.hpp"

namespace hb::sheet {
namespace {
std::string text_of(const std::string& pdf) {
  const OnDisk disk(pdf);
  return flat(run("pdftotext -layout " + disk.path("sheet.pdf") + " -").out);
}

class Pdf : public testing::TestWithParam<std::tuple<const char*, Paper>> {};
INSTANTIATE_TEST_SUITE_P(Samples, Pdf,
                         testing::Combine(testing::Values("petal_pass", "petal_fold_dead", "plank_untested",
                                                          "crowded"),
                                          testing::Values(Paper::a4, Paper::letter)),
                         [](const auto& param_info) {
                           return std::string(std::get<0>(param_info.param)) +
                                  (std::get<1>(param_info.param) == Paper::a4 ? "_a4" : "_letter");
                         });

TEST_P(Pdf, IsOneSoundPageThatOtherProgramsOpen) {
  NEED("qpdf");
  NEED("pdfinfo");
  SheetInputs in = inputs();
  in.paper = std::get<1>(GetParam());
  const auto pdf = customer_pdf(sample(std::get<0>(GetParam())), in);
  ASSERT_TRUE(pdf) << pdf.error().message();
  const OnDisk disk(*pdf);
  const Ran checked = run("qpdf --check " + disk.path("sheet.pdf"));
  EXPECT_EQ(checked.status, 0) << checked.out;
  EXPECT_EQ(run("qpdf --show-npages " + disk.path("sheet.pdf")).out, "1\n");
  const std::string info = run("pdfinfo " + disk.path("sheet.pdf")).out;
  EXPECT_NE(info.find(in.paper == Paper::a4 ? "595.276 x 841.89 pts (A4)" : "612 x 792 pts (letter)"),
            std::string::npos)
      << info;
  EXPECT_NE(info.find("Nov 25 10:42:07 2026"), std::string::npos) << "dated by the run, not by now:\n"
                                                                  << info;
}

TEST_P(Pdf, KeepsEverythingInsideTheMargins) {
  NEED("pdftotext");
  SheetInputs in = inputs();
  in.paper = std::get<1>(GetParam());
  const auto pdf = customer_pdf(sample(std::get<0>(GetParam())), in);
  ASSERT_TRUE(pdf);
  const OnDisk disk(*pdf);
  const double w = in.paper == Paper::a4 ? 595.276 : 612, h = in.paper == Paper::a4 ? 841.89 : 792;
  const auto words = word_boxes(disk);
  for (const auto& box : words)
    EXPECT_TRUE(box.x0 >= 30 && box.x1 <= w - 30 && box.y0 >= 20 && box.y1 <= h - 30) << box.line;
  EXPECT_GT(words.size(), 200U);
}

TEST(CustomerPdf, SaysTheKeyFactsAsText) {
  NEED("pdftotext");
  struct Row {
    const char* sample;
    std::vector<const char*> says;
  };
  const Row rows[] = {
      {"petal_pass",
       {"Lantern Street Repairs",
        "What we tested on your phone before giving it back",
        "Velmora Petal",
        "7F3K",
        "J-20261125-0001",
        "25 November 2026",
        "brought in 20 November 2026",
        "All tests passed.",
        "476 fields of the inner screen answered",
        "Battery main holds 97 % of its original capacity",
        "Charged wirelessly at 1.7 A without a break",
        "sharp in the middle",
        "Display-hinge assembly, lot DH-24K7",
        "Graphite frame, sage cover",
        "no answer",
        "fold",
        "Never press, bend or puncture it.",
        "is not promised to keep water out",
        "Nothing was installed",
        "handback verify",
        "kPrK _qmx VWaY VA9w"}},
      {"petal_fold_dead",
       {"Did not pass", "28 of the 476 fields of the inner screen did not answer",
        "A band across the whole width at the fold", "The shop has the measured details"}},
      {"plank_untested",
       {"Not complete", "Not tested", "The battery is full: the charging current cannot be judged.",
        "Simulated demonstration", "Battery holds 99 %"}},
      {"crowded",
       {"12 checks: 5 passed, 3 did not pass, 1 needs attention, 2 not tested and 1 left out as agreed.",
        "in the shop record"}}};
  for (const auto& row : rows) {
    const auto pdf = customer_pdf(sample(row.sample), inputs());
    ASSERT_TRUE(pdf);
    const std::string text = text_of(*pdf);
    for (const char* says : row.says) {
      // A sentence may wrap between columns of the page: its words must then all be there in the raw order.
      const OnDisk disk(*pdf);
      const std::string raw = flat(run("pdftotext -raw " + disk.path("sheet.pdf") + " -").out);
      EXPECT_TRUE(text.find(says) != std::string::npos || raw.find(says) != std::string::npos)
          << row.sample << ": " << says;
    }
  }
  EXPECT_EQ(text_of(*customer_pdf(sample("petal_pass"), inputs())).find("Simulated"), std::string::npos);
}

TEST(CustomerPdf, QrCodeReadsExactlyItsText) {
  NEED("pdftoppm");
  NEED("zbarimg");
  const SheetInputs in = inputs();
  const auto pdf = customer_pdf(sample("petal_fold_dead"), in);
  ASSERT_TRUE(pdf);
  const OnDisk disk(*pdf);
  ASSERT_EQ(run("pdftoppm -r 200 -gray -png -singlefile " + disk.path("sheet.pdf") + " " + disk.path("page"))
                .status,
            0);
  EXPECT_EQ(run("zbarimg -q --raw " + disk.path("page.png"), " 2>/dev/null").out, in.qr_text + "\n");
}

TEST(CustomerPdf, SameInputGivesTheSameBytes) {
  const auto a = customer_pdf(sample("petal_pass"), inputs()),
             b = customer_pdf(sample("petal_pass"), inputs());
  ASSERT_TRUE(a && b);
  EXPECT_EQ(*a, *b);
  EXPECT_EQ(*customer_html(sample("petal_pass"), inputs()), *customer_html(sample("petal_pass"), inputs()));
}

TEST(CustomerPdf, CarriesTheSignedRecordAndTheSlot) {
  const SheetInputs in = inputs();
  const auto pdf = customer_pdf(sample("petal_pass"), in);
  ASSERT_TRUE(pdf);
  EXPECT_EQ(*attached_record(*pdf), in.record_jws);
  EXPECT_EQ(occurrences(*pdf, in.seal_slot), 1U);
  EXPECT_EQ(occurrences(*pdf, "handback-seal:["), 1U);
  EXPECT_EQ(occurrences(*pdf, "handback-record:["), 0U);
  // A filled slot keeps the file readable.
  std::string sealed = *pdf;
  sealed.replace(sealed.find(in.seal_slot) + 15, 11, "eyJhbGciOiJ");
  EXPECT_EQ(*attached_record(sealed), in.record_jws);
  if (have("qpdf")) {
    const OnDisk disk(sealed);
    EXPECT_EQ(run("qpdf --check " + disk.path("sheet.pdf")).status, 0);
    EXPECT_EQ(run("qpdf --show-attachment=record.jws " + disk.path("sheet.pdf")).out, in.record_jws);
  }
}

TEST(AttachedRecord, IsTotalOverTornFiles) {
  const auto pdf = customer_pdf(sample("plank_untested"), inputs());
  ASSERT_TRUE(pdf);
  EXPECT_EQ(attached_record("").error().code, ErrorCode::bad_format);
  EXPECT_EQ(attached_record("%PDF-1.7\nnothing").error().code, ErrorCode::bad_format);
  const std::size_t whole = pdf->find("%handback-seal");  // from here on the file is complete
  for (std::size_t cut = 0; cut + 8 < whole; cut += whole / 60)
    EXPECT_FALSE(attached_record(std::string_view(*pdf).substr(0, cut))) << cut;
  for (std::size_t at = 9; at < pdf->size(); at += pdf->size() / 120) {
    std::string changed = *pdf;
    changed[at] = static_cast<char>(changed[at] ^ 0x41);
    (void)attached_record(changed).has_value();  // either answer; only no crash and no hang
  }
}

TEST(CustomerPdf, FitsWhateverTheShopWrote) {
  NEED("qpdf");
  const std::string word(1500, 'W'), text = [] {
    std::string s;
    for (int i = 0; i < 120; ++i) s += "many words ";
    return s;
  }();
  for (const std::string& filler : {word, text, std::string("\u4E2D\u6587\u0627\u0644"), std::string()}) {
    nlohmann::json r = sample("crowded");
    spoil(r, filler);
    const nlohmann::json checks = r["checks"];
    for (int i = 0; i < 2; ++i)
      for (const auto& c : checks) r["checks"].push_back(c);
    for (int i = 0; i < 40; ++i) r["job"]["parts"].push_back({{"name", filler}, {"lot", filler}});
    for (const Paper paper : {Paper::a4, Paper::letter}) {
      if (paper == Paper::letter && filler != text) continue;
      SheetInputs in = inputs();
      in.paper = paper;
      in.cure_time = filler;
      const auto pdf = customer_pdf(r, in);
      ASSERT_TRUE(pdf) << pdf.error().message();
      const OnDisk disk(*pdf);
      EXPECT_EQ(run("qpdf --show-npages " + disk.path("sheet.pdf")).out, "1\n");
      for (const auto& box : word_boxes(disk))
        EXPECT_LE(box.y1, paper == Paper::a4 ? 841.89 - 15 : 792 - 15) << box.line;
    }
  }
}
}  // namespace
}  // namespace hb::sheet
