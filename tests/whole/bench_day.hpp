// Shared by the tests of whole programs that are broken off: phones, benches, and what was printed to go on.
#pragma once

#include <gtest/gtest.h>
#include <algorithm>

#include <memory>
#include <string>
#include <vector>

#include "whole.hpp"

namespace hb::test {
using Words = std::vector<std::string>;

inline Words operator+(Words a, const Words& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

/// A stand-in with its fixture.
struct PluggedIn {
  explicit PluggedIn(const Words& more = {})
      : program(Words{standin(), "--model", "plank", "--port", "0", "--jig-port", "0"} +
                (std::find(more.begin(), more.end(), "--clock") == more.end() ? Words{"--clock", "stepped"}
                                                                              : Words{}) +
                more) {
    const auto ports = nlohmann::json::parse(program.first_line(), nullptr, false);
    if (!ports.is_object()) return;
    device = "tcp:127.0.0.1:" + std::to_string(ports["port"].get<int>());
    fixture = "tcp:127.0.0.1:" + std::to_string(ports["jig_port"].get<int>());
  }
  [[nodiscard]] Words words() const { return {"--device", device, "--fixture", fixture}; }
  Background program;
  std::string device, fixture;
};

/// A bench with a home of its own.
struct BenchHome {
  explicit BenchHome(std::string at, std::string ledger = {})
      : home(std::move(at)), words{handback(), "--home", home} {
    if (!ledger.empty()) words = words + Words{"--ledger", ledger};
    EXPECT_EQ(call({"bench", "init", "--shop", "Tarn Street Phones", "--contact", "3 Tarn Street"}).code, 0);
  }
  [[nodiscard]] Finished call(const Words& more, int seconds = 200) const {
    return run(words + more, seconds);
  }
  std::string job() const {
    const auto r =
        call({"--json", "intake", "--fault", "screen-dark", "--repair", "display-swap", "--consent"});
    EXPECT_EQ(r.code, 0) << r.err;
    return r.json().value("job", "");
  }
  std::string home;
  Words words;
};

/// The command that was printed to go on with; empty: none.
inline std::string hint(const std::string& said) {
  const std::string before = "Go on with:\n  ";
  const auto at = said.rfind(before);
  if (at == std::string::npos) return {};
  const auto from = at + before.size();
  return said.substr(from, said.find('\n', from) - from);
}
/// As somebody would paste it.
inline Finished paste(const std::string& command) { return run({"sh", "-c", command}, 200); }

/// Runs the words where `mount` (shell; $0 is `folder`) has changed a folder for them alone.
inline Finished run_with_mount(const std::string& mount, const std::string& folder, const Words& words) {
  return run(Words{"unshare", "-rm", "sh", "-c", mount + " && exec \"$@\"", folder} + words, 200);
}
/// False where the system lets nobody but its owner mount.
inline bool may_mount(const std::string& folder) {
  return have("unshare") &&
         run_with_mount("mount -t tmpfs -o size=64k none \"$0\"", folder, {"true"}).code == 0;
}
}  // namespace hb::test
