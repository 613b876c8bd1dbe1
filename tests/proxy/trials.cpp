#include "tests/proxy/trials.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <random>

#include "tools/bench/one_run/one_run.hpp"
#include "tools/standin/physics/faults.hpp"
#include "tools/standin/whole/whole.hpp"

namespace hb::test {
namespace {
using Clock = std::chrono::steady_clock;

/// Everything of one run; the coroutine and the phone side share it.
struct Desk {
  TrialEnd end;
  std::unique_ptr<standin::Whole> phone;
  std::unique_ptr<FaultProxy> proxy;
  Clock::time_point start = Clock::now();
};

struct Hall {
  net::io_context io{1};
  std::map<std::string, profiles::Profile> profiles;
  std::optional<link::BenchRsaKey> key;
  std::filesystem::path folder;
  std::vector<std::shared_ptr<Desk>> desks;
  std::uint64_t next = 0, last = 0;
  std::size_t working = 0;
};

void judge(const record::Record& record, TrialEnd& end) {
  end.how = std::string(checks::name(record.outcome).view());
  for (const auto& c : record.checks) {
    const bool expected = c.id == end.trial.check;
    if (expected && c.outcome == checks::Outcome::pass) end.wrong_pass = true;
    if (!expected && c.outcome == checks::Outcome::fail) end.false_fail = true;
  }
}

void note(const Result<run::Ended>& r, TrialEnd& end) {
  end.ended = true;
  if (!r)
    end.how = fmt::format("error: {}", name(r.error().code));
  else if (!r->record)
    end.how = fmt::format("paused: {}", r->why ? name(r->why->code) : "no reason");
  else
    judge(*r->record, end);
}

/// The check of the fault and, every third time, one more: whole runs would only take longer.
std::vector<std::string> checks_of(const Trial& t, const profiles::Profile& profile) {
  const auto& all = profile.checks;
  std::vector<std::string> out;
  const auto extra = t.seed / 3 % all.size();
  for (std::size_t i = 0; i < all.size(); ++i)
    if (all[i] == t.check || (i == extra && (t.check.empty() || t.seed % 3 == 0))) out.push_back(all[i]);
  return out;
}

net::awaitable<void> work(std::shared_ptr<Hall> hall) {
  while (hall->next < hall->last) {
    const auto desk = std::make_shared<Desk>();
    desk->end.trial = trial_of(hall->next++);
    hall->desks.push_back(desk);
    const auto& t = desk->end.trial;
    standin::WholeOptions options;
    options.model = t.model;
    options.seed = 1 + t.seed % 50;
    if (!t.fault.empty()) options.faults.push_back(t.fault);
    auto phone = standin::Whole::start(hall->io, options);
    if (!phone) throw std::logic_error(phone.error().message());
    desk->phone = std::move(*phone);
    desk->proxy = FaultProxy::listen(hall->io, desk->phone->port(), t.plan);
    bench::OneRun run(hall->profiles.at(t.model), *hall->key);
    run.profile.checks = checks_of(t, run.profile);
    run.port = desk->proxy->port();
    run.jig_port = desk->phone->jig_port();
    run.journal = hall->folder / fmt::format("{}.jsonl", t.seed);
    run.wait_for_phone = std::chrono::seconds(4);
    desk->start = Clock::now();
    const auto ended = co_await bench::one_run(std::move(run));
    desk->end.seconds = std::chrono::duration<double>(Clock::now() - desk->start).count();
    desk->end.harmed = desk->proxy->harmed() > 0;
    note(ended, desk->end);
    desk->proxy.reset();
    desk->phone.reset();
  }
  --hall->working;
}

/// Runs until all work is done or the oldest run is over the limit.
void watch(Hall& hall, std::chrono::seconds limit) {
  while (hall.working > 0) {
    hall.io.run_for(std::chrono::milliseconds(200));
    const auto late = std::any_of(hall.desks.begin(), hall.desks.end(), [&](const auto& d) {
      return !d->end.ended && Clock::now() - d->start > limit;
    });
    if (late) break;
  }
}
}  // namespace

Trial trial_of(std::uint64_t seed) {
  std::mt19937_64 random(seed * 0x9e3779b97f4a7c15u + 1);
  Trial t;
  t.seed = seed;
  t.model = random() % 3 == 0 ? "plank" : "petal";
  std::vector<const standin::FaultInfo*> faults;
  for (const auto& f : standin::fault_list())
    if (!f.condition() && f.applies_to(t.model)) faults.push_back(&f);
  if (random() % 4 != 0) {
    const auto& f = *faults[random() % faults.size()];
    t.fault = f.name;
    t.check = f.check;
  }
  t.plan.harm = kHarms[seed % std::size(kHarms)];
  t.plan.to_bench = random() % 3 != 0;
  // Most checks take some hundred packets in each direction; the greeting takes three.
  const auto most = std::uint64_t{1} << (2 + random() % 8);
  t.plan.at_packet = 1 + random() % most;
  t.plan.seed = random();
  return t;
}

std::string words(const Trial& t) {
  return fmt::format("seed {}: {} with {}, {} at packet {} {}", t.seed, t.model,
                     t.fault.empty() ? "no fault" : t.fault, name(t.plan.harm), t.plan.at_packet,
                     t.plan.to_bench ? "to the bench" : "to the phone");
}

std::vector<TrialEnd> run_trials(std::uint64_t first, std::size_t count, std::size_t together,
                                 std::chrono::seconds limit, const std::filesystem::path& folder) {
  const auto hall = std::make_shared<Hall>();
  for (const auto* model : {"petal", "plank"}) hall->profiles.emplace(model, bench::profile_of(model));
  auto key = link::BenchRsaKey::load_or_make(folder / "key");
  if (!key) throw std::runtime_error(key.error().message());
  hall->key = *key;
  hall->folder = folder;
  hall->next = first;
  hall->last = first + count;
  hall->working = together;
  const auto rethrow = [](std::exception_ptr e) {
    if (e) std::rethrow_exception(e);
  };
  for (std::size_t i = 0; i < together; ++i) net::co_spawn(hall->io, work(hall), rethrow);
  watch(*hall, limit);
  std::vector<TrialEnd> ends;
  for (const auto& d : hall->desks) ends.push_back(d->end);
  return ends;
}

std::string table(const std::vector<TrialEnd>& ends) {
  std::map<std::string, std::map<std::string, int>> counts;
  std::map<std::string, double> longest;
  for (const auto& e : ends) {
    const std::string harm(name(e.trial.plan.harm));
    auto& row = counts[harm];
    ++row[e.ended ? e.how : "HANGS"];
    if (e.harmed) ++row["(harmed)"];
    if (e.wrong_pass) ++row["WRONG PASS"];
    if (e.false_fail) ++row["false fail"];
    longest[harm] = std::max(longest[harm], e.seconds);
  }
  std::string out = fmt::format("{:<11} {:>9}  {}\n", "harm", "longest s", "ends");
  for (const Harm h : kHarms) {
    const auto row = counts.find(std::string(name(h)));
    if (row == counts.end()) continue;
    std::string line;
    for (const auto& [how, n] : row->second) line += fmt::format("{}{} {}", line.empty() ? "" : ", ", how, n);
    out += fmt::format("{:<11} {:>9.1f}  {}\n", name(h), longest[row->first], line);
  }
  return out;
}
}  // namespace hb::test
