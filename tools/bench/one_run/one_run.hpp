/// One run of the checklist in this process, with a fixture's hands and nobody looking. For tests and
/// benchmarks that want many. Threads: the executor that it is spawned on.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "harness/run/run.hpp"

namespace hb::bench {
struct OneRun {
  OneRun(profiles::Profile model, link::BenchRsaKey link_key)
      : profile(std::move(model)), key(std::move(link_key)) {}
  profiles::Profile profile;  ///< `checks` may be cut to those that should run
  link::BenchRsaKey key;
  std::uint16_t port = 0, jig_port = 0;  ///< on 127.0.0.1
  std::filesystem::path journal;         ///< must not exist
  std::chrono::seconds wait_for_phone{600};
  std::shared_ptr<page::FrameRoom> room;
};

/// The profile of an invented model, "petal" or "plank". Throws std::runtime_error if it has problems.
[[nodiscard]] profiles::Profile profile_of(const std::string& model);

/// Connects to the fixture, then run_checklist.
[[nodiscard]] net::awaitable<Result<run::Ended>> one_run(OneRun what);
}  // namespace hb::bench
