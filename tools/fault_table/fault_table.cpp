// Runs the whole program on many stand-in units, healthy and with each fault, and prints what was found.
//   hb_fault_table [--seeds N] [--fault-seeds N]
// Columns: runs, pass, marginal, not tested, fail; for faults also: caught (its check fails), only (no other
// check fails), named (the expected finding is given). Exit 1 when a healthy unit failed or a fault was
// missed.
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cstdio>
#include <filesystem>
#include <mutex>
#include <nlohmann/json.hpp>
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
  }
  row.caught += caught;
  row.only += caught && !other;
  row.named += named;
}

struct Task {
  std::size_t row;
  int seed;
};
}  // namespace

int main(int argc, char** argv) {
  int seeds = 50, fault_seeds = 5;
  for (int i = 1; i + 1 < argc; i += 2) {
    if (std::string(argv[i]) == "--seeds") seeds = std::atoi(argv[i + 1]);
    if (std::string(argv[i]) == "--fault-seeds") fault_seeds = std::atoi(argv[i + 1]);
  }
  const fs::path bin = fs::read_symlink("/proc/self/exe").parent_path();
  std::vector<Row> rows{{"petal", "", "", ""}, {"plank", "", "", ""}};
  for (const auto& f : json::parse(output_of((bin / "standin").string() + " --list-faults --json"))) {
    if (f.value("check", "").empty() || f.value("finding", "").empty()) continue;
    for (const auto& m : f["models"]) rows.push_back({m, f["name"], f["check"], f["finding"]});
  }
  std::vector<Task> tasks;
  for (std::size_t r = 0; r < rows.size(); ++r)
    for (int s = 1; s <= (rows[r].fault.empty() ? seeds : fault_seeds); ++s) tasks.push_back({r, s});

  std::atomic<std::size_t> next{0};
  std::mutex guard;
  std::vector<std::thread> workers;
  for (unsigned w = 0; w < std::max(1u, std::thread::hardware_concurrency()); ++w)
    workers.emplace_back([&, w] {
      const fs::path out = fs::temp_directory_path() / fmt::format("handback-table-{}-{}", ::getpid(), w);
      for (std::size_t i = 0; (i = next++) < tasks.size();) {
        const auto& t = tasks[i];
        const Row& r = rows[t.row];
        const auto j = json::parse(
            output_of(fmt::format("{} --json --quiet demo --out {} --model {} --seed {} {} 2>/dev/null",
                                  (bin / "handback").string(), out.string(), r.model, t.seed,
                                  r.fault.empty() ? "" : "--fault " + r.fault)),
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
  fmt::print("{:<6} {:<28} {:<18} {:>5} {:>5} {:>8} {:>10} {:>5} {:>6} {:>7} {:>6} {:>6}\n", "model", "fault",
             "check", "runs", "pass", "marginal", "not tested", "fail", "broken", "caught", "only", "named");
  bool good = true;
  for (const auto& r : rows) {
    fmt::print("{:<6} {:<28} {:<18} {:>5} {:>5} {:>8} {:>10} {:>5} {:>6}", r.model,
               r.fault.empty() ? "(healthy)" : r.fault, r.check, r.runs, r.pass, r.marginal, r.not_tested,
               r.fail, r.broken);
    if (!r.fault.empty()) fmt::print(" {:>7} {:>6} {:>6}", r.caught, r.only, r.named);
    fmt::print("\n");
    good = good && r.broken == 0 &&
           (r.fault.empty() ? r.fail == 0 : r.caught == r.runs && r.only == r.runs && r.named == r.runs);
  }
  return good ? 0 : 1;
}
