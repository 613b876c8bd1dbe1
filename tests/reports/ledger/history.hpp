/// A little ledger to work on: jobs and runs made through the public functions.
#pragma once

#include <fmt/format.h>

#include "reports/ledger/ledger.hpp"
#include "tests/reports/record/small_record.hpp"
#include "tests/reports/record/temp_folder.hpp"

namespace hb::testing_support {
inline sign::SigningKey ledger_key() { return sign::SigningKey::from_seed(Bytes(32, 9)).value(); }
inline sign::KeyRing ledger_ring() {
  sign::KeyRing ring;
  ring.add(ledger_key().public_key());
  return ring;
}
/// Always 2026-11-25T08:00:00Z.
inline ledger::Options fixed_time(int busy_ms = 5000) {
  return {std::chrono::milliseconds(busy_ms), [] { return std::int64_t{1795593600}; }};
}
inline record::Job job_fields() { return small_record().job; }
/// 26 characters, one for each number.
inline std::string run_number(int n) { return fmt::format("01JDGZ{:020}", n); }
inline nlohmann::json run_of(const record::Job& job, int number, const sign::SigningKey& key = ledger_key()) {
  auto r = small_record();
  r.bench.key_id = key.key_id();
  r.run_id = run_number(number);
  r.job = job;
  return record::to_json(r);
}
/// A job and its run of each number from 0, as an export held them before texts lay apart from what is
/// signed.
inline nlohmann::json old_export(int pairs) {
  using nlohmann::json;
  json entries = json::array(), heads = json::array();
  ledger::Frontier frontier;
  const auto add = [&](const char* kind, const std::string& at, const json& content) {
    const auto payload = sign::make_jws(record::canonical(content).value(), ledger_key());
    const auto leaf = ledger::leaf_hash(as_bytes(payload));
    frontier.push(leaf);
    const auto seq = frontier.size();
    entries.push_back(
        {{"seq", seq}, {"kind", kind}, {"created_utc", at}, {"leaf_hash", hex(leaf)}, {"payload", payload}});
    const json head = {{"at", "2026-11-25T08:00:00Z"},
                       {"root", hex(frontier.root())},
                       {"schema", "handback-head-1"},
                       {"size", seq}};
    heads.push_back(sign::make_jws(record::canonical(head).value(), ledger_key()));
  };
  for (int i = 0; i < pairs; ++i) {
    auto job = job_fields();
    job.id = fmt::format("J-20261125-{:04}", i + 1);
    add("job", job.opened_utc, {{"schema", "handback-job-1"}, {"job", record::to_json(job)}});
    const auto run = run_of(job, i);
    add("run", run["run"]["finished"].get<std::string>(), run);
  }
  return {{"schema", "handback-ledger-1"}, {"entries", std::move(entries)}, {"heads", std::move(heads)}};
}
/// A job and its run; the number of the run's entry.
inline Result<std::int64_t> add_job_and_run(ledger::Ledger& l, int number) {
  const auto job = l.open_job(job_fields());
  if (!job) return job.error();
  const auto jws = l.sign_record(run_of(*job, number));
  if (!jws) return jws.error();
  const auto receipt = l.append_run(*jws);
  if (!receipt) return receipt.error();
  return receipt->seq;
}
}  // namespace hb::testing_support
