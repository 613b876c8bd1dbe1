// Many phones at one bench: as many whole checklists in one process, on one thread, against stand-ins in
// other processes, one for each core: what phones work out by themselves is not the bench's. Prints how the
// runs ended, the time against one phone's, and the memory of a phone.
//   hb_bench_many_phones [--phones N] [--model petal|plank] [--clock stepped|rate:N]
// Goal: all end with a verdict; with clocks that run by themselves 64 phones take little longer than one. A
// rate that the stand-ins cannot keep up with measures the stand-ins.
// Exit 1 when a run did not end with a verdict.
#include <fmt/format.h>
#include <sys/resource.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <map>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "harness/page/frame_room.hpp"
#include "phones_process.hpp"
#include "tools/bench/one_run/one_run.hpp"

namespace {
using namespace hb;
namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

/// Pictures of all phones together: four of 1536 x 1200 at once.
constexpr std::size_t kRoom = std::size_t{24} << 20;

double seconds_since(Clock::time_point t) { return std::chrono::duration<double>(Clock::now() - t).count(); }

double own_cpu_s() {
  rusage u{};
  ::getrusage(RUSAGE_SELF, &u);
  const auto s = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  return s(u.ru_utime) + s(u.ru_stime);
}

struct Tally {
  std::map<std::string, int> ends;
  int verdicts = 0;
  double longest_bench_s = 0;
  void add(const Result<run::Ended>& r) {
    if (!r) {
      ++ends[fmt::format("error: {}", name(r.error().code))];
    } else if (!r->record) {
      ++ends["paused"];
    } else {
      ++verdicts;
      ++ends[std::string(checks::name(r->record->outcome).view())];
      for (const auto& c : r->record->checks) {
        if (c.outcome == checks::Outcome::not_tested) ++ends[fmt::format("({}: {})", c.id, c.reason)];
        for (const auto& v : c.verdicts)
          if (v.outcome == checks::Outcome::fail)
            ++ends[fmt::format("({} {:.3g})", v.measure.key.view(), v.measure.value)];
      }
      longest_bench_s = std::max(longest_bench_s, r->record->bench_seconds);
    }
  }
};

net::awaitable<void> one(bench::OneRun what, Tally& tally) {
  const auto r = co_await bench::one_run(std::move(what));
  tally.add(r);
}

struct Figures {
  double wall_s = 0, bench_cpu_s = 0, phones_cpu_s = 0;
  long long base_kib = 0, peak_kib = 0;
  Tally tally;
};

/// Phones shared out to as many processes as there are cores.
class Crowd {
 public:
  Crowd(std::size_t count, standin::WholeOptions options) {
    const std::size_t most = std::max(1u, std::thread::hardware_concurrency());
    for (std::size_t left = count, shares = std::min(most, count); left > 0; --shares) {
      const auto share = left / shares;
      processes_.push_back(std::make_unique<bench::PhonesProcess>(share, options));
      const auto& p = processes_.back()->ports();
      ports_.insert(ports_.end(), p.begin(), p.end());
      options.seed += share;
      left -= share;
    }
  }
  [[nodiscard]] const std::vector<bench::Ports>& ports() const noexcept { return ports_; }
  [[nodiscard]] double cpu_s() const {
    double s = 0;
    for (const auto& p : processes_) s += p->cpu_s();
    return s;
  }

 private:
  std::vector<std::unique_ptr<bench::PhonesProcess>> processes_;
  std::vector<bench::Ports> ports_;
};

Figures measure(const Crowd& phones, const profiles::Profile& profile, const link::BenchRsaKey& key,
                const fs::path& folder) {
  Figures f;
  net::io_context io(1);
  const auto room = std::make_shared<page::FrameRoom>(kRoom);
  bench::forget_peak();
  f.base_kib = bench::memory_kib("VmRSS");
  const auto start = Clock::now();
  const double cpu = own_cpu_s(), theirs = phones.cpu_s();
  for (std::size_t i = 0; i < phones.ports().size(); ++i) {
    bench::OneRun run(profile, key);
    run.port = phones.ports()[i].wire;
    run.jig_port = phones.ports()[i].jig;
    run.room = room;
    run.journal = folder / fmt::format("{}-{}.jsonl", phones.ports().size(), i);
    net::co_spawn(io, one(std::move(run), f.tally), net::detached);
  }
  io.run();
  f.wall_s = seconds_since(start);
  f.bench_cpu_s = own_cpu_s() - cpu;
  f.phones_cpu_s = phones.cpu_s() - theirs;
  f.peak_kib = bench::memory_kib("VmHWM");
  return f;
}

void print(std::size_t phones, const Figures& f) {
  std::string ends;
  for (const auto& [how, n] : f.tally.ends) ends += fmt::format("  {} {}", how, n);
  fmt::print(
      "{:>3} phones: {:6.1f} s wall, longest {:5.1f} bench min; processor {:5.1f} s bench, {:5.1f} s "
      "stand-ins;{}\n"
      "            memory {:.1f} MiB at rest, peak {:.1f} MiB, {:.2f} MiB a phone\n",
      phones, f.wall_s, f.tally.longest_bench_s / 60, f.bench_cpu_s, f.phones_cpu_s, ends,
      static_cast<double>(f.base_kib) / 1024, static_cast<double>(f.peak_kib) / 1024,
      static_cast<double>(f.peak_kib - f.base_kib) / 1024 / static_cast<double>(phones));
}
}  // namespace

int main(int argc, char** argv) {
  std::size_t count = 64;
  standin::WholeOptions options;
  options.clock = "rate:10";
  CLI::App cli("many whole checklists in one process");
  cli.add_option("--phones", count)->capture_default_str();
  cli.add_option("--model", options.model)->check(CLI::IsMember({"petal", "plank"}))->capture_default_str();
  cli.add_option("--clock", options.clock, "stepped, wall or rate:N")->capture_default_str();
  CLI11_PARSE(cli, argc, argv);
  const Crowd alone(1, options), all(count, options);
  std::string folder = (fs::temp_directory_path() / "handback-many-XXXXXX").string();
  if (::mkdtemp(folder.data()) == nullptr) return 2;
  const auto profile = bench::profile_of(options.model);
  const auto key = link::BenchRsaKey::load_or_make(fs::path(folder) / "key");
  if (!key) return 2;
  fmt::print("{}, clock {}, every check of the profile\n", options.model, options.clock);
  const auto first = measure(alone, profile, *key, folder);
  print(1, first);
  const auto many = measure(all, profile, *key, folder);
  print(count, many);
  fmt::print("time against one phone's: {:.2f}\n", many.wall_s / first.wall_s);
  fs::remove_all(folder);
  return many.tally.verdicts == static_cast<int>(count) && first.tally.verdicts == 1 ? 0 : 1;
}
