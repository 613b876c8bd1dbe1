#include "tools/bench/one_run/one_run.hpp"

#include <stdexcept>

#include "checks/registry.hpp"
#include "harness/run/fixture.hpp"

namespace hb::bench {
namespace {
class Unseen final : public run::View {
 public:
  void connecting() override {}
  void owner_must_allow() override {}
  void connected(std::string_view, Term) override {}
  void check_starts(const checks::CheckInfo&, std::size_t, std::size_t) override {}
  void check_ends(const checks::CheckResult&, bool) override {}
  void step(const checks::CheckInfo&, double, Term) override {}
  void paused(Term, std::chrono::seconds) override {}
  void back() override {}
  void safety_stop(std::string_view, std::string_view) override {}
};
}  // namespace

profiles::Profile profile_of(const std::string& model) {
  const auto known = checks::all_checks();
  auto loaded = profiles::load(profiles::shipped_folder() / (model + ".toml"), known);
  if (!loaded.profile) throw std::runtime_error(loaded.problems.front().message());
  return std::move(*loaded.profile);
}

net::awaitable<Result<run::Ended>> one_run(OneRun what) {
  auto fixture = co_await run::Fixture::connect("127.0.0.1", what.jig_port);
  if (!fixture) co_return fixture.error();
  const auto port = what.port;
  const auto dial = [port] { return link::connect_tcp("127.0.0.1", port, net::milliseconds(5000)); };
  run::Setup setup(dial, what.key, Bytes(32, 0x5a), std::move(what.profile));
  setup.op = (*fixture)->op();
  setup.clock = (*fixture)->clock();
  setup.journal = std::move(what.journal);
  setup.wait_for_phone = what.wait_for_phone;
  setup.software = "benchmark";
  setup.room = what.room;
  Unseen view;
  co_return co_await run::run_checklist(std::move(setup), view);
}
}  // namespace hb::bench
