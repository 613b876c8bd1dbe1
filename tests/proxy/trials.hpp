/// Whole runs of the checklist on stand-in phones behind a bad cable, one for each seed: which phone, which
/// assembly fault, which checks and which harm follow from the seed.
/// Threads: run_trials() makes its own io_context and uses one thread.
#pragma once

#include <chrono>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "harness/link/link.hpp"
#include "tests/proxy/fault_proxy.hpp"

namespace hb::test {
struct Trial {
  std::uint64_t seed = 0;
  std::string model, fault, check;  ///< of the phone; `fault` empty: sound; `check`: where the fault fails
  HarmPlan plan;
};
[[nodiscard]] Trial trial_of(std::uint64_t seed);
/// For messages: everything that follows from the seed, in one line.
[[nodiscard]] std::string words(const Trial& trial);

struct TrialEnd {
  Trial trial;
  bool ended = false;       ///< false: it hangs
  std::string how;          ///< "pass", "marginal", "not tested", "fail", "paused: CODE", "error: CODE"
  bool wrong_pass = false;  ///< the fault's own check passed
  bool false_fail = false;  ///< a check failed that the phone passes
  bool harmed = false;      ///< the plan's moment came
  double seconds = 0;       ///< wall time
};

/// Runs the seeds from `first` on, `together` at a time; a run that takes longer than `limit` counts as
/// hanging. `folder` takes the journals.
[[nodiscard]] std::vector<TrialEnd> run_trials(std::uint64_t first, std::size_t count, std::size_t together,
                                               std::chrono::seconds limit,
                                               const std::filesystem::path& folder);

/// One line a harm: how its runs ended, and the longest.
[[nodiscard]] std::string table(const std::vector<TrialEnd>& ends);
}  // namespace hb::test
