// Runs the checklist on many stand-in units, healthy and with each fault, and prints what was found.
//   hb_fault_table [--seeds N] [--fault-seeds N] [--degree D ...] [--fault NAME ...] [--threads N]
// Columns: runs, pass, marginal, not tested, fail; for faults also: caught (its check fails), only (no other
// check fails), named (the expected finding is given). Degree 1 runs the whole checklist; smaller degrees run
// the fault's own check. Then the matrix of diagnoses: what was named for each fault besides the expected
// finding. Exit 1 when a healthy unit failed, or a fault of degree 1 (the degree that must be caught) was
// missed or not named. Bench and phone share a process, with real sockets between them; tests/whole does the
// same with the programs themselves.
#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <atomic>
#include <cstdio>
#include <filesystem>
#include <map>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "tools/bench/one_run/one_run.hpp"
#include "tools/standin/physics/faults.hpp"
#include "tools/standin/whole/whole.hpp"

namespace {
using namespace hb;
using checks::Outcome;
namespace fs = std::filesystem;

struct Row {
  std::string model, fault, check, finding;
  double degree = 1;
  std::map<std::string, int> also;  ///< other findings, and in how many runs
  int runs = 0, pass = 0, marginal = 0, not_tested = 0, fail = 0, broken = 0, caught = 0, only = 0, named = 0;
};

void count(Row& row, const std::optional<record::Record>& record) {
  ++row.runs;
  if (!record) {
    ++row.broken;
    return;
  }
  (record->outcome == Outcome::pass       ? row.pass
   : record->outcome == Outcome::marginal ? row.marginal
   : record->outcome == Outcome::fail     ? row.fail
                                          : row.not_tested)++;
  bool caught = false, other = false, named = false;
  for (const auto& c : record->checks) {
    const bool failed = c.outcome == Outcome::fail, own = c.id == row.check;
    (own ? caught : other) |= failed;
    std::set<std::string> said;
    for (const auto& f : c.findings) {
      const bool expected = own && f.id.view() == row.finding;
      named = named || expected;
      if (!expected) said.insert(f.id.str());
    }
    for (const auto& f : said) ++row.also[f];
  }
  row.caught += caught;
  row.only += caught && !other;
  row.named += named;
}

void print_table(const std::vector<Row>& rows) {
  fmt::print("{:<6} {:<28} {:>6} {:<18} {:>5} {:>5} {:>8} {:>10} {:>5} {:>6} {:>7} {:>6} {:>6}\n", "model",
             "fault", "degree", "check", "runs", "pass", "marginal", "not tested", "fail", "broken", "caught",
             "only", "named");
  int healthy = 0, false_fails = 0, must = 0, caught = 0, named = 0;
  for (const auto& r : rows) {
    fmt::print("{:<6} {:<28} {:>6} {:<18} {:>5} {:>5} {:>8} {:>10} {:>5} {:>6}", r.model,
               r.fault.empty() ? "(healthy)" : r.fault, r.degree, r.check, r.runs, r.pass, r.marginal,
               r.not_tested, r.fail, r.broken);
    if (!r.fault.empty()) fmt::print(" {:>7} {:>6} {:>6}", r.caught, r.only, r.named);
    fmt::print("\n");
    if (r.fault.empty()) healthy += r.runs, false_fails += r.fail;
    if (!r.fault.empty() && r.degree >= 1) must += r.runs, caught += r.caught, named += r.named;
  }
  fmt::print("healthy: {} of {} failed; faults of degree 1: {} of {} caught, {} named\n", false_fails,
             healthy, caught, must, named);
}

/// Over models and degrees; one line a fault that ever had another finding beside or instead of its own.
void print_diagnoses(const std::vector<Row>& rows) {
  std::map<std::string, std::map<std::string, int>> said;
  std::map<std::string, std::pair<int, int>> own;  // runs, named
  for (const auto& r : rows) {
    own[r.fault].first += r.runs, own[r.fault].second += r.named;
    for (const auto& [finding, n] : r.also) said[r.fault][finding] += n;
  }
  fmt::print("diagnoses besides the expected one:{}\n", said.empty() ? " none" : "");
  for (const auto& [fault, others] : said) {
    fmt::print("  {:<28} {} runs, named in {};", fault.empty() ? "(healthy)" : fault, own[fault].first,
               own[fault].second);
    for (const auto& [finding, n] : others) fmt::print(" {} {}", finding, n);
    fmt::print("\n");
  }
}

struct Task {
  std::size_t row;
  int seed;
};

net::awaitable<void> go(bench::OneRun what, std::optional<record::Record>& into, net::io_context& io) {
  auto ended = co_await bench::one_run(std::move(what));
  if (ended && ended->record) into = std::move(*ended->record);
  io.stop();
}

std::optional<record::Record> one_unit(const Row& r, int seed, const profiles::Profile& profile,
                                       const link::BenchRsaKey& key, const fs::path& journal) {
  net::io_context io(1);
  standin::WholeOptions options;
  options.model = r.model;
  options.seed = static_cast<std::uint64_t>(seed);
  if (!r.fault.empty()) options.faults = {fmt::format("{}:{}", r.fault, r.degree)};
  const auto phone = standin::Whole::start(io, options);
  if (!phone) return std::nullopt;
  bench::OneRun what(profile, key);
  if (!r.fault.empty() && r.degree < 1) what.profile.checks = {r.check};
  what.port = (*phone)->port();
  what.jig_port = (*phone)->jig_port();
  what.journal = journal;
  std::optional<record::Record> record;
  net::co_spawn(io, go(std::move(what), record, io), net::detached);
  io.run_for(std::chrono::minutes(5));
  std::error_code ec;
  fs::remove(journal, ec);
  return record;
}
}  // namespace

int main(int argc, char** argv) {
  int seeds = 50, fault_seeds = 5;
  unsigned threads = std::max(1u, std::thread::hardware_concurrency());
  std::vector<double> degrees{1};
  std::vector<std::string> only;
  CLI::App cli("every fault of the stand-in, and healthy units, through the whole checklist");
  cli.add_option("--seeds", seeds, "healthy units of each model")->check(CLI::NonNegativeNumber);
  cli.add_option("--fault-seeds", fault_seeds, "units with each fault")->check(CLI::NonNegativeNumber);
  cli.add_option("--degree", degrees, "severities, 1 is the one that must be caught")
      ->check(CLI::Range(0.0, 1.0));
  cli.add_option("--fault", only, "these faults; otherwise all");
  cli.add_option("--threads", threads, "runs at once")->check(CLI::PositiveNumber);
  CLI11_PARSE(cli, argc, argv);

  std::vector<Row> rows;
  const auto row = [&](std::string_view model, const standin::FaultInfo* f, double degree) {
    Row& r = rows.emplace_back();
    r.model = model, r.degree = degree;
    if (f != nullptr) r.fault = f->name, r.check = f->check, r.finding = f->finding;
  };
  for (const char* model : {"petal", "plank"}) row(model, nullptr, 1);
  for (const auto& f : standin::fault_list()) {
    if (f.condition() || (!only.empty() && std::find(only.begin(), only.end(), f.name) == only.end()))
      continue;
    for (const double degree : degrees)
      for (const char* model : {"petal", "plank"})
        if (f.applies_to(model)) row(model, &f, degree);
  }
  std::vector<Task> tasks;
  for (std::size_t r = 0; r < rows.size(); ++r)
    for (int s = 1; s <= (rows[r].fault.empty() ? seeds : fault_seeds); ++s) tasks.push_back({r, s});

  const fs::path folder = fs::temp_directory_path() / fmt::format("handback-table-{}", ::getpid());
  fs::create_directories(folder);
  const std::map<std::string, profiles::Profile> profiles{{"petal", bench::profile_of("petal")},
                                                          {"plank", bench::profile_of("plank")}};
  const auto key = link::BenchRsaKey::load_or_make(folder / "link.pem");
  if (!key) return fmt::print(stderr, "{}\n", key.error().message()), 2;
  std::atomic<std::size_t> next{0};
  std::mutex guard;
  std::vector<std::thread> workers;
  for (unsigned w = 0; w < threads; ++w)
    workers.emplace_back([&, w] {
      for (std::size_t i = 0; (i = next++) < tasks.size();) {
        const auto& t = tasks[i];
        const Row& r = rows[t.row];
        const auto record =
            one_unit(r, t.seed, profiles.at(r.model), *key, folder / fmt::format("{}-{}.jsonl", w, i));
        const std::lock_guard lock(guard);
        count(rows[t.row], record);
        if (i % 20 == 0) fmt::print(stderr, "\r{} of {} runs", i, tasks.size());
        if (r.fault.empty() && !(record && record->outcome == Outcome::pass))
          fmt::print(stderr, "\n{} seed {}: {}\n", r.model, t.seed,
                     record ? checks::name(record->outcome).view() : "broken");
      }
    });
  for (auto& w : workers) w.join();
  std::error_code ec;
  fs::remove_all(folder, ec);

  fmt::print(stderr, "\r");
  print_table(rows);
  print_diagnoses(rows);
  const bool good = std::all_of(rows.begin(), rows.end(), [](const Row& r) {
    if (r.broken != 0) return false;
    if (r.fault.empty()) return r.fail == 0;
    return r.degree < 1 || (r.caught == r.runs && r.only == r.runs && r.named == r.runs);
  });
  return good ? 0 : 1;
}
