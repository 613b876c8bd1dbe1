// SQLite keeps deleted rows in its pages and its log; an erased text must not be found there.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "tests/reports/ledger/history.hpp"

namespace hb::ledger {
namespace {
using namespace testing_support;
namespace fs = std::filesystem;

std::string all_bytes(const fs::path& folder) {
  std::string out;
  for (const auto& f : fs::directory_iterator(folder)) {
    std::ifstream in(f.path(), std::ios::binary);
    out.append(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
  }
  return out;
}

TEST(LedgerErasure, NoByteOfAnErasedTextIsLeftInTheFiles) {
  const TempFolder dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time());
  ASSERT_TRUE(l);
  for (int i = 0; i < 40; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
  std::vector<std::string> texts;  // every disclosure of the job and of its run
  for (const auto& e : {l->job_entry("J-20261125-0020").value(), l->find(run_number(19)).value()}) {
    const std::string all(sign::disclosures_of(e.payload));
    for (std::size_t from = 0, to = 0; (to = all.find('~', from)) != std::string::npos; from = to + 1)
      texts.push_back(all.substr(from, to - from));
  }
  ASSERT_EQ(texts.size(), 8U);
  for (const auto& t : texts) ASSERT_NE(all_bytes(dir / "").find(t), std::string::npos) << "they were there";
  ASSERT_TRUE(l->withdraw("J-20261125-0020", "personal-text"));
  const auto e = l->erase("J-20261125-0020");
  ASSERT_TRUE(e) << e.error().message();
  EXPECT_EQ(e->left, "");
  const auto left = all_bytes(dir / "");
  for (const auto& t : texts) {
    EXPECT_EQ(left.find(t), std::string::npos);
    EXPECT_EQ(left.find(t.substr(4, 24)), std::string::npos) << "nor its salt, which no other has";
  }
  EXPECT_TRUE(l->verify(ledger_ring())->sound());
}

TEST(LedgerErasure, AReaderThatSeesThePastIsToldOfAndTheCommandFinishesLater) {
  const TempFolder dir;
  auto l = Ledger::open(dir / "l.db", ledger_key(), fixed_time(50));
  for (int i = 0; i < 3; ++i) ASSERT_TRUE(add_job_and_run(*l, i));
  const std::string text(sign::disclosures_of(l->find(run_number(1))->payload));
  ASSERT_TRUE(l->withdraw(run_number(1), "personal-text"));
  auto other = Ledger::open(dir / "l.db", ledger_key(), fixed_time(50));
  ASSERT_TRUE(other->together([&]() -> Result<void> {
    const auto e = l->erase(run_number(1));
    EXPECT_FALSE(e) << "another bench is writing";
    return {};
  }));
  const auto e = l->erase(run_number(1));
  ASSERT_TRUE(e) << e.error().message();
  EXPECT_EQ(all_bytes(dir / "").find(text), std::string::npos);
}

}  // namespace
}  // namespace hb::ledger
