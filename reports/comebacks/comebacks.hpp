/// Comebacks: which handed-back repairs return, after how long, from which part lot, and which release check
/// would have told. Read from the ledger's signed contents only, after every signature, hash and head was
/// checked.
///
/// Subject: the last release run of a job, if it was finished by `as_of`. Event: the first job that names
/// this one as the job it comes back from, if opened by `as_of`; time: days from the release run's end to the
/// comeback job's opening. Without one the subject is censored at `as_of`. Comparisons are within one
/// grouping; a job with two parts stands once under each part's lots. Errors: those of the ledger; bad_format
/// when `as_of` is not a time; altered or unknown_key, naming the first entry that is not as it was written.
/// Threads: pure apart from reading.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "reports/comebacks/survival.hpp"
#include "reports/ledger/ledger.hpp"

namespace hb::comebacks {

/// Below this a group's figures are printed, but said to tell nothing (common practice, no source).
inline constexpr int kFewSubjects = 10;
/// Below this many comebacks in all, groups are not compared (common practice, no source).
inline constexpr int kFewEvents = 5;

struct Subject {
  std::string job_id, run_id, model, repair;
  std::vector<std::pair<std::string, std::string>> parts;  ///< name, lot
  Observation days;
  /// Of the release run: the judged measure with the largest probability of being outside its limit although
  /// it was let through, "" if none was judged; and the checks that were not a clean pass.
  std::string worst_measure;
  std::vector<std::string> not_clean;
  std::string comeback_job;                   ///< empty: none by as_of
  std::vector<std::string> failed_at_return;  ///< checks that failed in the comeback job's first run
};

struct Study {
  std::string as_of_utc;
  std::vector<Subject> subjects;  ///< in the ledger's order
  int without_release = 0;        ///< jobs that have no release run yet: no subjects
  int odd_dates = 0;              ///< comebacks dated before their release: left out, and said so
  bool verified = false;          ///< false: the figures rest on entries that nobody checked, and say so
};
[[nodiscard]] Result<Study> collect(const ledger::Ledger& ledger, std::string_view as_of_utc,
                                    const sign::KeyRing& ring);
/// For a ledger that does not verify any more, or whose keys are not at hand.
[[nodiscard]] Result<Study> collect_unverified(const ledger::Ledger& ledger, std::string_view as_of_utc);

enum class By { lot, model, repair };
[[nodiscard]] Term name(By by) noexcept;

struct Group {
  std::string name;
  Rate rate;
  std::vector<KmRow> curve;
  Median median_days;
  std::vector<Observation> data;
  [[nodiscard]] bool few() const noexcept { return rate.n < kFewSubjects; }
};
struct Comparison {
  By by = By::lot;
  std::string part;           ///< whose lots; for By::lot only
  std::vector<Group> groups;  ///< by name
  LogRank test;
  bool few = false;  ///< too few comebacks or groups: the test is not to be read
};
/// `part`: whose lots are compared; empty takes the part that most jobs have.
[[nodiscard]] Comparison compare(const Study& study, By by, std::string_view part = {});

/// What the release run showed against what failed on return, over the subjects that came back.
struct Signs {
  std::map<std::string, int> worst_measure;     ///< at release
  std::map<std::string, int> not_clean;         ///< checks at release
  std::map<std::string, int> failed_at_return;  ///< checks
  int comebacks = 0;
  int clean_releases = 0;  ///< of them, how many had a clean pass of every check
};
[[nodiscard]] Signs signs(const Study& study);

/// Plain text, at most 100 columns.
[[nodiscard]] std::string render(const Study& study, const Comparison& comparison, const Signs& signs);
[[nodiscard]] nlohmann::json to_json(const Study& study, const Comparison& comparison, const Signs& signs);
/// "group,time,event" with a line for each subject of the comparison (RFC 4180, '\n'); for R.
[[nodiscard]] std::string to_csv(const Comparison& comparison);
}  // namespace hb::comebacks
