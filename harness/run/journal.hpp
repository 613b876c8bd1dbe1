/// The journal of one run: what was captured, as numbers, one JSON line each, on disk before the next check
/// starts. A run that was stopped (cable, cancel, power) resumes from it, and a finished one can be judged
/// again bit for bit.
///   line 1   {"journal":"handback-journal-1","header":{...}}
///   others   {"check":ID,"try":N,"capture":{...},"bench_seconds":S,"from_s":T,"connection":C}  or
///   {"check":ID,"try":N,"not_tested":REASON,...} or       {"check":ID,"try":N,"safety":REASON}
/// T is the phone's clock when the check began, C counts connections: together they tell what ran side by
/// side. A last line torn by a power cut is dropped: that check runs again.
/// read() takes any bytes: what it hands on is no deeper than kDeepest, and each member named here is of its
/// type and within its bounds, or missing. Errors: io (full disk, permissions), bad_format with the line
/// number, privacy when a text in a capture does not pass the gate (a defect of the check). Threads: one at a
/// time; append() blocks until the data is on the disk (fdatasync).
#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::run {
inline constexpr int kDeepest = 64;                    ///< arrays and objects within each other
inline constexpr std::size_t kMostJournal = 1u << 28;  ///< bytes

struct JournalContents {
  nlohmann::json header;
  std::vector<nlohmann::json> entries;
};

class Journal {
 public:
  /// Makes the file (it must not exist) with mode 0600. `header` holds numbers this program made, tags and
  /// dates; it is not screened.
  [[nodiscard]] static Result<Journal> create(std::filesystem::path file, const nlohmann::json& header);
  /// Opens for appending after the last whole line.
  [[nodiscard]] static Result<Journal> reopen(std::filesystem::path file);
  [[nodiscard]] static Result<JournalContents> read(const std::filesystem::path& file);
  [[nodiscard]] Result<void> append(const nlohmann::json& entry);

  Journal(Journal&& other) noexcept;
  Journal& operator=(Journal&&) = delete;
  ~Journal();

 private:
  Journal(std::filesystem::path file, int fd) : file_(std::move(file)), fd_(fd) {}
  std::filesystem::path file_;
  int fd_;
};

/// The gate over JSON: numbers, booleans and nulls pass; every text and every name must pass the screen.
[[nodiscard]] Result<void> screen_json(const nlohmann::json& value, const std::string& where);
}  // namespace hb::run
