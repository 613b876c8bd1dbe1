// Runs the whole program on many stand-in units, healthy and with each fault, and prints what was found.
//   hb_fault_table [--seeds N] [--fault-seeds N] [--degree D ...] [--fault NAME ...] [--together N]
// Columns: runs, pass, marginal, not tested, fail; for faults also: caught (its check fails), only (no other
// check fails), named (the expected finding is given). Then the matrix of diagnoses: what was named for each
// fault besides the expected finding. Exit 1 when a healthy unit failed, or a fault of degree 1 (the degree
// that must be caught) was missed or not named.
#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <atomic>
#include <cstdio>
#include <filesystem>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <thread>
#include <vector>

namespace {
using nlohmann::json;
namespace fs = std::filesystem;

std::string output_of(const std::string& command) {
  std::string out;
  std::FILE* p = ::popen(command.c_str(), "r");
  if (p == nullptr) return out;
  std::array<char, 65536> buf{};
  for (std::size_t n = 0; (n = std::fread(buf.data(), 1, buf.size(), p)) > 0;) out.append(buf.data(), n);
  ::pclose(p);
  return out;
}

struct Row {
  std::string model, fault, check, finding;
  double degree = 1;
  std::map<std::string, int> also;  ///< other findings, and in how many runs
  int runs = 0, pass = 0, marginal = 0, not_tested = 0, fail = 0, broken = 0, caught = 0, only = 0, named = 0;
};

void count(Row& row, const json& j) {
  ++row.runs;
  if (!j.is_object() || !j.contains("checks")) {
    ++row.broken;
    return;
  }
  const auto outcome = j.value("outcome", "");
  (outcome == "pass"       ? row.pass
   : outcome == "marginal" ? row.marginal
   : outcome == "fail"     ? row.fail
                           : row.not_tested)++;
  bool caught = false, other = false, named = false;
  for (const auto& c : j["checks"]) {
    const bool failed = c["outcome"] == "fail";
    if (c["id"] == row.check) {
      caught = failed;
      for (const auto& f : c["findings"]) named = named || f == row.finding;
    } else {
      other = other || failed;
    }
    std::set<std::string> said;
    for (const auto& f : c["findings"])
      if (c["id"] != row.check || f != row.finding) said.insert(f.get<std::string>());
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
}  // namespace

int main(int argc, char** argv) {
  int seeds = 50, fault_seeds = 5;
  unsigned together = 4 * std::max(1u, std::thread::hardware_concurrency());  // a run mostly waits
  std::vector<double> degrees{1};
  std::vector<std::string> only;
  CLI::App cli("every fault of the stand-in, and healthy units, through the whole program");
  cli.add_option("--seeds", seeds, "healthy units of each model")->check(CLI::NonNegativeNumber);
  cli.add_option("--fault-seeds", fault_seeds, "units with each fault")->check(CLI::NonNegativeNumber);
  cli.add_option("--degree", degrees, "severities, 1 is the one that must be caught")
      ->check(CLI::Range(0.0, 1.0));
  cli.add_option("--fault", only, "these faults; otherwise all");
  cli.add_option("--together", together, "runs at once")->check(CLI::PositiveNumber);
  CLI11_PARSE(cli, argc, argv);

  const fs::path bin = fs::read_symlink("/proc/self/exe").parent_path();
  std::vector<Row> rows;
  const auto row = [&](std::string model, std::string fault, std::string check, std::string finding,
                       double degree) {
    Row& r = rows.emplace_back();
    r.model = std::move(model), r.fault = std::move(fault);
    r.check = std::move(check), r.finding = std::move(finding), r.degree = degree;
  };
  for (const char* model : {"petal", "plank"}) row(model, "", "", "", 1);
  for (const auto& f : json::parse(output_of((bin / "standin").string() + " --list-faults --json"))) {
    if (f.value("check", "").empty() || f.value("finding", "").empty()) continue;
    if (!only.empty() && std::find(only.begin(), only.end(), f["name"].get<std::string>()) == only.end())
      continue;
    for (const double degree : degrees)
      for (const auto& m : f["models"]) row(m, f["name"], f["check"], f["finding"], degree);
  }
  std::vector<Task> tasks;
  for (std::size_t r = 0; r < rows.size(); ++r)
    for (int s = 1; s <= (rows[r].fault.empty() ? seeds : fault_seeds); ++s) tasks.push_back({r, s});

  std::atomic<std::size_t> next{0};
  std::mutex guard;
  std::vector<std::thread> workers;
  for (unsigned w = 0; w < together; ++w)
    workers.emplace_back([&, w] {
      const fs::path out = fs::temp_directory_path() / fmt::format("handback-table-{}-{}", ::getpid(), w);
      for (std::size_t i = 0; (i = next++) < tasks.size();) {
        const auto& t = tasks[i];
        const Row& r = rows[t.row];
        const auto j = json::parse(
            output_of(fmt::format("{} --json --quiet demo --out {} --model {} --seed {} {} 2>/dev/null",
                                  (bin / "handback").string(), out.string(), r.model, t.seed,
                                  r.fault.empty() ? "" : fmt::format("--fault {}:{}", r.fault, r.degree))),
            nullptr, false);
        std::error_code ec;
        fs::remove_all(out, ec);
        const std::lock_guard lock(guard);
        count(rows[t.row], j);
        if (i % 20 == 0) fmt::print(stderr, "\r{} of {} runs", i, tasks.size());
        if (r.fault.empty() && j.is_object() && j.value("outcome", "") != "pass")
          fmt::print(stderr, "\n{} seed {}: {}\n", r.model, t.seed, j.value("outcome", ""));
      }
    });
  for (auto& w : workers) w.join();

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
