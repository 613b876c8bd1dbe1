/// The record: everything a run measured, as the shop keeps it. Built from numbers, closed words and screened
/// shop text only; written as canonical JSON (RFC 8785) so that a signature covers exactly one byte string.
/// Threads: value types and pure functions.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "checks/check.hpp"
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
  checks::Outcome outcome = checks::Outcome::not_tested;
  double bench_seconds = 0;  ///< bench time of the run
};

/// Lossless apart from Term identity: from_json(to_json(r)) gives a RecordView that renders the same sheet.
[[nodiscard]] nlohmann::json to_json(const Record& r);
/// The record's "job" member alone; the ledger keeps the same bytes.
[[nodiscard]] nlohmann::json to_json(const Job& job);
/// The way back for a job. Errors: as validate(), for the "job" member.
[[nodiscard]] Result<Job> job_from_json(const nlohmann::json& job);

/// The schema as a whitelist, before a record is signed and after one is read back from signed bytes: every
/// member present, none besides, types and lengths right, every text through the privacy screen again.
/// Errors: bad_format or privacy, `where` is the JSON pointer; the offending text is never repeated.
[[nodiscard]] Result<void> validate(const nlohmann::json& record);
}  // namespace hb::record
