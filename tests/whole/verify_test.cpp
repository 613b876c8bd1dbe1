// What `handback verify` says of good and of changed documents, and what programs that are not ours say.
#include <gtest/gtest.h>

#include <fstream>
#include <random>

#include "whole.hpp"

namespace hb::test {
namespace {

struct OneRun : testing::Test {
  static void SetUpTestSuite() {
    folder = new TempFolder;
    result = demo(*folder / "out", {});
  }
  static void TearDownTestSuite() {
    delete folder;
    folder = nullptr;
  }
  static std::string file(const char* what) { return result.json()[what].get<std::string>(); }
  static int verify(const std::string& f) {
    return run({handback(), "--home", *folder / "out", "verify", f}).code;
  }
  static TempFolder* folder;
  static Finished result;
};
TempFolder* OneRun::folder = nullptr;
Finished OneRun::result;

TEST_F(OneRun, AChangedByteIsAltered) {
  ASSERT_EQ(result.code, 0);
  std::mt19937 random(7);
  for (const char* what : {"record", "sheet_html", "sheet_pdf"}) {
    const std::string good = slurp(file(what));
    ASSERT_EQ(verify(file(what)), 0) << what;
    for (int i = 0; i < 12; ++i) {
      std::string bad = good;
      const auto at = i == 0 ? 0 : i == 1 ? bad.size() - 1 : random() % bad.size();
      bad[at] = static_cast<char>(bad[at] ^ (1 << (random() % 7)));
      const auto path = *folder / ("changed-" + std::to_string(i) + std::string(what));
      std::ofstream(path, std::ios::binary) << bad;
      EXPECT_EQ(verify(path), 1) << what << " byte " << at;
    }
    std::ofstream(*folder / "longer", std::ios::binary) << good << "\n";
    EXPECT_EQ(verify(*folder / "longer"), 1) << what << " with a byte more";
    std::ofstream(*folder / "shorter", std::ios::binary) << good.substr(0, good.size() - 1);
    EXPECT_EQ(verify(*folder / "shorter"), 1) << what << " with a byte less";
  }
}

TEST_F(OneRun, AnotherBenchDoesNotKnowTheKey) {
  ASSERT_EQ(result.code, 0);
  for (const char* what : {"record", "sheet_html", "sheet_pdf"}) {
    const auto r = run({handback(), "--json", "--home", *folder / "elsewhere", "verify", file(what)});
    EXPECT_EQ(r.code, 5);
    EXPECT_EQ(r.json()["answer"], "cannot_tell");
    EXPECT_EQ(r.json()["status"], "unknown key") << what << r.out;
  }
}

TEST_F(OneRun, TheJoseLibraryVerifiesTheRecord) {
  const std::string dir = std::string(HB_SOURCE_DIR) + "/tests/reports/jose";
  if (!have("node") || !std::filesystem::exists(dir + "/node_modules/jose"))
    GTEST_SKIP() << "node or jose is not installed";
  std::string jwk;
  for (const auto& [f, bytes] : all_files(folder->path() / "out" / "keys" / "trusted")) jwk = f.string();
  const auto good = run({"node", dir + "/verify.mjs", file("record"), jwk});
  EXPECT_EQ(good.code, 0) << good.err;
  EXPECT_EQ(good.json()["schema"], "handback-record-1");
  std::string bad = slurp(file("record"));
  bad[bad.find('.') + 20] ^= 1;
  std::ofstream(*folder / "bad.jws", std::ios::binary) << bad;
  EXPECT_NE(run({"node", dir + "/verify.mjs", *folder / "bad.jws", jwk}).code, 0);
}

TEST_F(OneRun, ThePaperSheetIsOnePageAndItsCodeCanBeChecked) {
  if (!have("pdftoppm") || !have("zbarimg") || !have("qpdf"))
    GTEST_SKIP() << "pdftoppm, zbarimg or qpdf is not installed";
  EXPECT_EQ(run({"qpdf", "--check", file("sheet_pdf")}).code, 0);
  EXPECT_EQ(run({"qpdf", "--show-npages", file("sheet_pdf")}).out, "1\n");
  ASSERT_EQ(run({"pdftoppm", "-r", "200", "-png", "-singlefile", file("sheet_pdf"), *folder / "page"}).code,
            0);
  auto code = run({"zbarimg", "-q", "--raw", *folder / "page.png"}).out;
  while (!code.empty() && code.back() == '\n') code.pop_back();
  ASSERT_GT(code.size(), 100u);
  const auto v = run({handback(), "--json", "--home", *folder / "out", "verify", "--text", code});
  EXPECT_EQ(v.code, 0) << v.out << v.err;
  EXPECT_EQ(v.json()["summary"]["outcome"], "pass");
  code[code.size() / 2] = code[code.size() / 2] == 'A' ? 'B' : 'A';
  EXPECT_EQ(run({handback(), "--home", *folder / "out", "verify", "--text", code}).code, 1);
}

TEST_F(OneRun, TheCodeIsTakenFromAFileFromAPipeAndFromAPhoto) {
  if (!have("pdftoppm") || !have("zbarimg")) GTEST_SKIP() << "pdftoppm or zbarimg is not installed";
  const std::string page = *folder / "photo", home = *folder / "out";
  ASSERT_EQ(run({"pdftoppm", "-r", "200", "-png", "-singlefile", file("sheet_pdf"), page}).code, 0);
  ASSERT_EQ(run({"pdftoppm", "-r", "200", "-jpeg", "-singlefile", file("sheet_pdf"), page}).code, 0);
  const auto code = run({"zbarimg", "-q", "--raw", page + ".png"}).out;
  std::ofstream(*folder / "code.txt") << code;  // with a line break at its end
  struct Row {
    std::string given, input;
    int code;
    const char* status;
  };
  std::string wrong = code;
  wrong[wrong.size() / 2] = wrong[wrong.size() / 2] == 'A' ? 'B' : 'A';
  const Row rows[] = {{*folder / "code.txt", "", 0, "authentic"},
                      {"-", code, 0, "authentic"},
                      {"-", code.substr(0, 70) + "\n> " + code.substr(70), 0, "authentic"},
                      {"-", code.substr(0, 70) + "\r\n" + code.substr(70), 0, "authentic"},
                      {"-", wrong, 1, "altered"},
                      {page + ".png", "", 0, "authentic"},
                      {page + ".jpg", "", 0, "authentic"},
                      {"-", slurp(page + ".jpg"), 0, "authentic"},
                      {"-", slurp(file("sheet_html")), 0, "authentic"}};
  for (const auto& row : rows) {
    const auto v = run({handback(), "--json", "--home", home, "verify", row.given}, 60, row.input);
    EXPECT_EQ(v.code, row.code) << row.given << v.out << v.err;
    EXPECT_EQ(v.json()["status"], row.status) << row.given;
  }
  ASSERT_EQ(run({"pdftoppm", "-r", "30", "-png", "-singlefile", file("sheet_pdf"), page}).code, 0);
  const auto blind = run({handback(), "--home", home, "verify", page + ".png"});
  EXPECT_EQ(blind.code, 5) << "too coarse to be read is no verdict";
  EXPECT_NE(blind.out.find("no QR code can be read"), std::string::npos) << blind.out;
}

TEST_F(OneRun, TheSheetIsWrittenAgainFromTheRecordAloneInAnyLanguageAndOnAnyPaper) {
  ASSERT_EQ(result.code, 0);
  struct Row {
    const char *language, *paper, *lang, *cures;
  };
  const Row rows[] = {{"en", "a4", "<html lang=\"en\">", "gently for 24 hours"},
                      {"de", "letter", "<html lang=\"de\">", "24 Stunden lang vorsichtig"},
                      {"ar", "a4", "<html lang=\"ar\" dir=\"rtl\">", "24"}};
  for (const auto& row : rows) {
    const auto again =
        run({handback(), "--json", "--home", *folder / "out", "sheet", result.json()["run"], "--language",
             row.language, "--paper", row.paper, "--out", *folder / (std::string("again-") + row.language)});
    ASSERT_EQ(again.code, 0) << again.out << again.err;
    const std::string html = again.json()["sheet_html"], pdf = again.json()["sheet_pdf"];
    EXPECT_NE(slurp(html).find(row.lang), std::string::npos) << row.language;
    EXPECT_NE(slurp(html).find(row.cures), std::string::npos) << row.language;
    EXPECT_EQ(verify(html), 0) << row.language;
    EXPECT_EQ(verify(pdf), 0) << row.language;
    if (have("pdfinfo")) {
      EXPECT_NE(run({"pdfinfo", pdf}).out.find(row.paper == std::string("a4") ? "(A4)" : "(letter)"),
                std::string::npos);
    }
  }
  EXPECT_EQ(
      run({handback(), "--home", *folder / "out", "sheet", result.json()["run"], "--language", "xx"}).code,
      2);
}

TEST_F(OneRun, TheLedgerHoldsItAndIsSound) {
  const auto v = run({handback(), "--json", "--home", *folder / "out", "ledger", "verify"});
  EXPECT_EQ(v.code, 0) << v.out << v.err;
  EXPECT_EQ(v.json()["entries"], 2);
}

}  // namespace
}  // namespace hb::test
