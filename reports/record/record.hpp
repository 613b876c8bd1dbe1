/// The record: everything a run measured, as the shop keeps it. Built from numbers, closed words and screened
/// shop text only; written as canonical JSON (RFC 8785) so that a signature covers exactly one byte string.
/// Threads: value types and pure functions.
#pragma once

#include <cstdint>
#include <map>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "checks/measurement.hpp"
#include "harness/base/encoding.hpp"
#include "harness/base/gate.hpp"

namespace hb::record {

/// RFC 8785. Errors: bad_format for NaN, infinity or a lone surrogate / invalid UTF-8.
[[nodiscard]] Result<std::string> canonical(const nlohmann::json& value);
/// ECMAScript Number-to-string (RFC 8785 3.2.2.3). Precondition: finite.
[[nodiscard]] std::string es_number(double value);
/// Parses JSON text strictly: UTF-8, no duplicate names, nothing after the value, depth at most 64,
/// no integer that a double cannot hold.
[[nodiscard]] Result<nlohmann::json> parse_strict(std::string_view text);

struct Part {
  ShopText name;  ///< "display-hinge assembly"
  ShopText lot;   ///< supplier's lot as on the box
  friend bool operator==(const Part&, const Part&) = default;
};

enum class RunKind { intake, release, comeback };
[[nodiscard]] Term name(RunKind k) noexcept;

/// An hour is a quick tape; two weeks is more than any adhesive's data sheet asks.
inline constexpr std::pair<double, double> kCureHours{0.5, 336};

/// A check that the customer agreed to leave out.
struct Waiver {
  std::string check;  ///< its id
  Term reason;        ///< one of waiver_reasons()
};

/// The job's own fields, from the technician at intake.
struct Job {
  std::string id;          ///< "J-20261125-0001": made by the ledger
  std::string opened_utc;  ///< RFC 3339, seconds, Z
  ShopText fault;          ///< reported fault
  std::vector<Part> parts_fitted;
  ShopText colour_agreed;
  bool consent_tests = false;  ///< the owner agreed to these tests
  std::string comeback_of;     ///< earlier job id, or empty
  ShopText repair_kind;        ///< "display-hinge swap"
  /// Hours that the fresh adhesive needs to cure, by the technician: kCureHours.first to .second.
  std::optional<double> cure_hours;
  std::vector<Waiver> waivers;  ///< what a run may waive; nothing else
};

/// When a check was taken, and in which run of the job.
struct Taken {
  std::string run_id, at_utc;
};

/// The earlier run of the same job and kind that a run goes on from.
struct Follows {
  std::string run_id;
  std::vector<Term> opened;  ///< what was opened or changed between: of opened_parts()
};

struct Bench {
  ShopText shop, name, contact;  ///< contact: how to reach the shop, in the shop's own words
  std::string key_id;            ///< JWK thumbprint, RFC 7638
};

struct Record {
  std::string run_id;  ///< 26 characters: time and random
  RunKind kind = RunKind::release;
  Job job;
  Bench bench;
  std::string started_utc, finished_utc;
  Term clock;  ///< "wall", or how a fixture kept the time
  Term link;   ///< "tcp" or "usb"
  std::string phone_tag, phone_tail;
  ShopText model;              ///< the profile's display name
  std::string profile_sha256;  ///< hex, of the profile file's bytes
  std::string software;        ///< "handback 0.1.0"
  std::vector<checks::CheckResult> checks;
  /// Checks that an earlier run of the job took, as its signed record tells them, `taken` included; by their
  /// place in the whole list.
  std::map<std::size_t, nlohmann::json> carried;
  std::map<std::string, Taken> taken;  ///< of `checks`, by id
  std::optional<Follows> follows;
  Term other_phone;  ///< of other_phone_reasons(): why the phone is not the one of the job's earlier runs
  double clock_back_s = 0;  ///< seconds that the computer's clock ran backwards during the run
  checks::Outcome outcome = checks::Outcome::not_tested;
  double bench_seconds = 0;  ///< bench time of the run
};

/// Worst first, as checks::combine, but a core check (is_core_check) that is waived counts as not tested: a
/// sheet without it is not complete, and never passed.
[[nodiscard]] checks::Outcome overall(
    const std::vector<std::pair<std::string, checks::Outcome>>& by_check) noexcept;

/// Lossless apart from Term identity: from_json(to_json(r)) gives a RecordView that renders the same sheet.
[[nodiscard]] nlohmann::json to_json(const Record& r);
/// The record's "job" member alone; the ledger keeps the same bytes.
[[nodiscard]] nlohmann::json to_json(const Job& job);
/// The way back for a job; an erased text is empty. Errors: as validate(), for the "job" member.
[[nodiscard]] Result<Job> job_from_json(const nlohmann::json& job);

/// The schema as a whitelist, before a record is signed and after one is read back from signed bytes: every
/// member present (but typed texts, disclosure.hpp, may have been erased), none besides, types and lengths
/// right, every text through the privacy screen again.
/// Errors: bad_format or privacy, `where` is the JSON pointer; the offending text is never repeated.
[[nodiscard]] Result<void> validate(const nlohmann::json& record);
}  // namespace hb::record
