// The ledger's speed: durable appends, verifying, proofs, each against the ledger's size.
//   hb_bench_ledger append [PLACE]     jobs and signed runs, each on the disk before the next
//   hb_bench_ledger verify [ENTRIES]   every signature, hash and head; and the tree alone, of 1 000 000
//   leaves hb_bench_ledger proof [LEAVES]     inclusion proofs from kept nodes, up to 10 000 000 leaves
// Files are made in the current folder, so that its disk is the one that is measured, and removed.
#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <vector>

#include "reports/ledger/ledger.hpp"
#include "tests/reports/ledger/history.hpp"

namespace {
using namespace hb;
using namespace hb::testing_support;
using Clock = std::chrono::steady_clock;
double seconds_since(Clock::time_point t) { return std::chrono::duration<double>(Clock::now() - t).count(); }

template <class T>
T must(Result<T> r) {
  if (!r) {
    fmt::print(stderr, "{}\n", r.error().message());
    std::exit(1);
  }
  if constexpr (!std::is_void_v<T>) return *std::move(r);
}

struct ScratchFile {
  std::string name = "hb-bench-ledger.sqlite";
  ScratchFile() { remove(); }
  ~ScratchFile() { remove(); }
  ScratchFile(const ScratchFile&) = delete;
  ScratchFile& operator=(const ScratchFile&) = delete;
  void remove() const {
    for (const char* end : {"", "-wal", "-shm"}) std::filesystem::remove(name + end);
  }
};

/// Jobs alone, in one transaction: quick to make, and as much work to verify as any entry.
void fill(ledger::Ledger& l, std::int64_t to) {
  const auto have = must(l.head()).size;
  must(l.together([&]() -> Result<void> {
    for (auto n = have; n < to; ++n)
      if (auto j = l.open_job(job_fields()); !j) return std::move(j).error();
    return {};
  }));
}

struct Spread {
  double mean_ms = 0, median_ms = 0, p99_ms = 0, worst_ms = 0;
};
template <class F>
Spread timed(int times, F&& work) {
  std::vector<double> ms;
  for (int i = 0; i < times; ++i) {
    const auto t = Clock::now();
    work(i);
    ms.push_back(1000 * seconds_since(t));
  }
  std::sort(ms.begin(), ms.end());
  Spread s;
  for (const double v : ms) s.mean_ms += v / times;
  s.median_ms = ms[ms.size() / 2];
  s.p99_ms = ms[ms.size() * 99 / 100];
  s.worst_ms = ms.back();
  return s;
}

int append(const std::string& place) {
  const ScratchFile scratch;
  auto l = must(ledger::Ledger::open(place.empty() ? scratch.name : place, ledger_key(), fixed_time()));
  fmt::print("sign and append one run, durable\n{:>10} {:>10} {:>10} {:>10} {:>10} {:>8}\n", "entries",
             "mean ms", "median ms", "99 % ms", "worst ms", "per s");
  int number = 0;
  for (const std::int64_t size : {0, 1000, 10000, 50000}) {
    fill(l, size);
    const auto job = must(l.open_job(job_fields()));
    const auto s = timed(200, [&](int) { must(l.append_run(must(l.sign_record(run_of(job, ++number))))); });
    fmt::print("{:>10} {:>10.3f} {:>10.3f} {:>10.3f} {:>10.3f} {:>8.0f}\n", size, s.mean_ms, s.median_ms,
               s.p99_ms, s.worst_ms, 1000 / s.mean_ms);
  }
  return 0;
}

int verify(std::int64_t entries) {
  const ScratchFile scratch;
  auto l = must(ledger::Ledger::open(scratch.name, ledger_key(), fixed_time()));
  fmt::print("verify: two signatures, the leaf, the root and the row of every entry\n{:>10} {:>10} {:>12}\n",
             "entries", "s", "entries/s");
  for (const auto size : {entries / 10, entries}) {
    fill(l, size);
    const auto t = Clock::now();
    const auto a = must(l.verify(ledger_ring()));
    const double s = seconds_since(t);
    if (!a.sound() || a.entries != size) return fmt::print(stderr, "{}\n", a.says), 1;
    fmt::print("{:>10} {:>10.2f} {:>12.0f}\n", size, s, static_cast<double>(size) / s);
  }
  constexpr int kLeaves = 1000000;
  const auto t = Clock::now();
  ledger::Frontier f;
  for (int i = 0; i < kLeaves; ++i) {
    f.push(ledger::leaf_hash(as_bytes(fmt::format("{:0700}", i))));  // about a job's length
    if (f.root() == Digest{}) return 1;  // a root after every entry, as verify does
  }
  fmt::print("the tree alone, {} leaves of 700 octets with a root after each: {:.2f} s, root {}\n", kLeaves,
             seconds_since(t), hex(f.root()).substr(0, 16));
  return 0;
}

/// Writes rows past the ledger, because ten million signed entries would take an hour: payloads are numbers
/// and nobody signed them. The tables, the hashes and the nodes are those that the ledger would have written.
class RowWriter {
 public:
  explicit RowWriter(const std::string& file) {
    check(sqlite3_open(file.c_str(), &db_));
    run("PRAGMA journal_mode = WAL; PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF");
    entry_ = statement("INSERT INTO entry VALUES(?,?,'job','2026-11-25T08:00:00Z',?)");
    node_ = statement("INSERT INTO node VALUES(?,?,?)");
  }
  RowWriter(const RowWriter&) = delete;
  RowWriter& operator=(const RowWriter&) = delete;
  ~RowWriter() {
    sqlite3_finalize(entry_);
    sqlite3_finalize(node_);
    sqlite3_close(db_);
  }
  void grow(std::int64_t to) {
    run("BEGIN");
    std::vector<Digest> completed;
    while (static_cast<std::int64_t>(f_.size()) < to) {
      const auto payload = fmt::format("simulated {}", f_.size());
      const auto leaf = ledger::leaf_hash(as_bytes(payload));
      completed.clear();
      f_.push(leaf, &completed);
      const auto seq = static_cast<std::int64_t>(f_.size());
      sqlite3_bind_int64(entry_, 1, seq);
      sqlite3_bind_blob(entry_, 2, leaf.data(), 32, SQLITE_STATIC);
      sqlite3_bind_text(entry_, 3, payload.c_str(), -1, SQLITE_STATIC);
      step(entry_);
      for (std::size_t i = 0; i < completed.size(); ++i) {
        sqlite3_bind_int(node_, 1, static_cast<int>(i + 1));
        sqlite3_bind_int64(node_, 2, (seq >> (i + 1)) - 1);
        sqlite3_bind_blob(node_, 3, completed[i].data(), 32, SQLITE_STATIC);
        step(node_);
      }
    }
    const auto root = f_.root();
    auto* head = statement("INSERT INTO head VALUES(?,?,x'','simulated')");
    sqlite3_bind_int64(head, 1, to);
    sqlite3_bind_blob(head, 2, root.data(), 32, SQLITE_STATIC);
    step(head);
    sqlite3_finalize(head);
    run("COMMIT; PRAGMA wal_checkpoint(TRUNCATE)");
  }

 private:
  static void check(int code) {
    if (code == SQLITE_OK || code == SQLITE_DONE || code == SQLITE_ROW) return;
    fmt::print(stderr, "SQLite: {}\n", sqlite3_errstr(code));
    std::exit(1);
  }
  void run(const char* sql) { check(sqlite3_exec(db_, sql, nullptr, nullptr, nullptr)); }
  static void step(sqlite3_stmt* s) { check(sqlite3_step(s)), check(sqlite3_reset(s)); }
  sqlite3_stmt* statement(const char* sql) {
    sqlite3_stmt* s = nullptr;
    check(sqlite3_prepare_v2(db_, sql, -1, &s, nullptr));
    return s;
  }
  sqlite3* db_ = nullptr;
  sqlite3_stmt *entry_ = nullptr, *node_ = nullptr;
  ledger::Frontier f_;
};

int proof(std::int64_t largest) {
  const ScratchFile scratch;
  { must(ledger::Ledger::open(scratch.name, ledger_key(), fixed_time())); }
  RowWriter rows(scratch.name);
  fmt::print(
      "inclusion proof of a random entry, made and checked; simulated leaves, nodes in the file.\n"
      "In memory: SQLite's cache of at most 2 MB, and what the system keeps of the file.\n"
      "{:>10} {:>10} {:>10} {:>10} {:>10} {:>12} {:>8}  {}\n",
      "leaves", "mean ms", "median ms", "99 % ms", "worst ms", "first ms", "file MB", "median, 5 us a mark");
  std::mt19937_64 random(1);
  for (std::int64_t size = 1000; size <= largest; size *= 10) {
    rows.grow(size);
    const auto l = must(ledger::Ledger::read(scratch.name));
    const auto one = [&](int) {
      must(l.inclusion(1 + static_cast<std::int64_t>(random() % static_cast<std::uint64_t>(size))));
    };
    const auto first = timed(1, one);  // with the file's header and the upper pages
    const auto s = timed(2000, one);
    fmt::print("{:>10} {:>10.3f} {:>10.3f} {:>10.3f} {:>10.3f} {:>12.3f} {:>8.0f}  {}\n", size, s.mean_ms,
               s.median_ms, s.p99_ms, s.worst_ms, first.worst_ms,
               static_cast<double>(std::filesystem::file_size(scratch.name)) / 1e6,
               std::string(std::min<std::size_t>(60, static_cast<std::size_t>(s.median_ms / 0.005)), '#'));
    std::fflush(stdout);
  }
  return 0;
}
}  // namespace

int main(int argc, char** argv) {
  const std::string what = argc > 1 ? argv[1] : "", more = argc > 2 ? argv[2] : "";
  if (what == "append") return append(more);
  if (what == "verify") return verify(more.empty() ? 20000 : std::atoll(more.c_str()));
  if (what == "proof") return proof(more.empty() ? 10000000 : std::atoll(more.c_str()));
  fmt::print(stderr, "hb_bench_ledger append [PLACE] | verify [ENTRIES] | proof [LEAVES]\n");
  return 2;
}
