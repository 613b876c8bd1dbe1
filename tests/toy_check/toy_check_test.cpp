// A new check is one new folder: nothing else of the product is touched, and it runs, is judged by the
// profile's limits, names what it found, and its profile keys are checked.
#include <gtest/gtest.h>

#include "checks/registry.hpp"
#include "tests/support/process.hpp"
#include "tools/bench/one_run/one_run.hpp"
#include "tools/standin/whole/whole.hpp"

namespace hb::test {
namespace {
/// plank's profile with the new check and what a bench would write for it.
profiles::Loaded profile_with(const std::string& more) {
  auto text = slurp(HB_SOURCE_DIR "/profiles/models/plank.toml");
  const std::string list = "\"radios\", ";
  const auto at = text.find(list);
  if (at == std::string::npos) return {};
  text.insert(at, "\"battery_level\", ");
  const auto known = checks::all_checks();
  return profiles::load_text(text + more, "plank.toml", known);
}

std::string limit(const std::string& lower) {
  return "\n[battery_level]\nreadings = 4\n\n[[limit]]\nmeasure = \"battery_level.level_pct\"\nlower = " +
         lower + "\norigin = \"common practice\"\n";
}

record::Record run_with(profiles::Profile profile) {
  TempFolder t;
  profile.checks = {"battery_level", "radios"};
  net::io_context io(1);
  standin::WholeOptions options;
  options.model = "plank";
  auto phone = standin::Whole::start(io, options);
  EXPECT_TRUE(phone) << phone.error().message();
  bench::OneRun what(std::move(profile), link::BenchRsaKey::load_or_make(t / "link.pem").value());
  what.port = (*phone)->port();
  what.jig_port = (*phone)->jig_port();
  what.journal = t / "run.jsonl";
  record::Record record;
  net::co_spawn(
      io,
      [](bench::OneRun w, record::Record& into, net::io_context& loop) -> net::awaitable<void> {
        auto ended = co_await bench::one_run(std::move(w));
        EXPECT_TRUE(ended) << ended.error().message();
        if (ended && ended->record) into = std::move(*ended->record);
        loop.stop();
      }(std::move(what), record, io),
      net::detached);
  io.run_for(std::chrono::seconds(60));
  return record;
}

TEST(ACheckFromOneFolder, RunsAndIsJudgedLikeAnyOther) {
  for (const auto& [lower, outcome] :
       {std::pair("20", checks::Outcome::pass), std::pair("99", checks::Outcome::fail)}) {
    auto loaded = profile_with(limit(lower));
    ASSERT_TRUE(loaded.profile) << (loaded.problems.empty() ? "no list" : loaded.problems.front().message());
    const auto record = run_with(std::move(*loaded.profile));
    ASSERT_EQ(record.checks.size(), 2u);
    const auto& r = record.checks[0];
    EXPECT_EQ(r.id, "battery_level");
    EXPECT_EQ(r.outcome, outcome);
    ASSERT_EQ(r.verdicts.size(), 1u);
    EXPECT_EQ(r.verdicts[0].measure.n, 4) << "the profile's own section was read";
    EXPECT_EQ(r.findings.size(), outcome == checks::Outcome::fail ? 1u : 0u);
    EXPECT_EQ(record.outcome, outcome);
    EXPECT_EQ(record.checks[1].outcome, checks::Outcome::pass);
  }
}

TEST(ACheckFromOneFolder, MistakesInItsSectionAreNamed) {
  auto text = limit("20");
  text.replace(text.find("= 4"), 3, "= 40");
  const auto loaded = profile_with(text);
  EXPECT_FALSE(loaded.profile);
  ASSERT_EQ(loaded.problems.size(), 1u);
  EXPECT_NE(loaded.problems.front().message().find("readings"), std::string::npos);
}

TEST(ACheckFromOneFolder, WithoutALimitIsAMistakeOfTheProfile) {
  const auto loaded = profile_with("");
  EXPECT_FALSE(loaded.profile);
  ASSERT_EQ(loaded.problems.size(), 1u);
  EXPECT_NE(loaded.problems.front().message().find("limit"), std::string::npos)
      << loaded.problems.front().message();
}
}  // namespace
}  // namespace hb::test
