// Many runs through a bad cable, and the table of how they ended.
//   hb_proxy_trials [--seeds N] [--from SEED] [--together N]
// Exit 1 when a run hangs or a faulty part passes.
#include <fmt/format.h>

#include <cstdlib>
#include <string>

#include "tests/proxy/trials.hpp"
#include "tests/support/process.hpp"

int main(int argc, char** argv) {
  std::uint64_t seeds = 1000, from = 1, together = 12;
  for (int i = 1; i + 1 < argc; i += 2) {
    const std::string option = argv[i];
    const auto value = std::strtoull(argv[i + 1], nullptr, 10);
    (option == "--seeds" ? seeds : option == "--from" ? from : together) = value;
  }
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
