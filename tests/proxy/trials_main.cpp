// Many runs through a bad cable, and the table of how they ended.
//   hb_proxy_trials [--seeds N] [--from SEED] [--together N]
// Exit 1 when a run hangs or a faulty part passes.
#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "tests/proxy/trials.hpp"
#include "tests/support/process.hpp"

int main(int argc, char** argv) {
  std::uint64_t seeds = 1000, from = 1, together = 12;
  CLI::App cli("whole runs through a bad cable");
  cli.add_option("--seeds", seeds, "runs")->capture_default_str();
  cli.add_option("--from", from, "first seed")->capture_default_str();
  cli.add_option("--together", together, "runs at once")->capture_default_str();
  CLI11_PARSE(cli, argc, argv);
  const hb::test::TempFolder folder;
  const auto ends = hb::test::run_trials(from, seeds, together, std::chrono::seconds(240), folder.path());
  bool good = true;
  for (const auto& e : ends) {
    if (!e.ended || e.wrong_pass || e.false_fail || e.seconds > 60)
      fmt::print("{}: {}{}{}, {:.1f} s\n", words(e.trial), e.ended ? e.how : "HANGS",
                 e.wrong_pass ? ", WRONG PASS" : "", e.false_fail ? ", a sound part failed" : "", e.seconds);
    good = good && e.ended && !e.wrong_pass;
  }
  fmt::print("{}", table(ends));
  return good ? 0 : 1;
}
