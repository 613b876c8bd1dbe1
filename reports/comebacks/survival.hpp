/// Times to an event, some of them not seen yet. Kaplan-Meier with Greenwood's standard error and log-log
/// limits, the log-rank test, and Wilson's limits for a rate.
/// Sources: Kaplan and Meier 1958; Greenwood 1926; log-log limits, Kalbfleisch and Prentice; log-rank, Mantel
/// 1966 in the form of R's survdiff (rho = 0); Wilson 1927 as given by Newcombe 1998 (all from memory; the
/// numbers are held against R in the tests). At a tie an event comes before a censoring. Units: times in any
/// one unit. Threads: pure functions.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace hb::comebacks {

struct Observation {
  double time = 0;     ///< >= 0, finite
  bool event = false;  ///< false: censored at `time`
};

/// One event time. Limits are absent where they are not defined (S = 1 or S = 0).
struct KmRow {
  double time = 0;
  int at_risk = 0, events = 0;
  double survival = 1;
  std::optional<double> se;            ///< Greenwood; absent at S = 0
  std::optional<double> lower, upper;  ///< two-sided 95 %
};
/// Rows at event times only, in order of time.
[[nodiscard]] std::vector<KmRow> kaplan_meier(std::span<const Observation> data);

struct Median {
  std::optional<double> time;          ///< first time with S <= 0.5; absent: not reached
  std::optional<double> lower, upper;  ///< 95 %, from the log-log limits; absent: not reached
};
[[nodiscard]] Median median(std::span<const KmRow> rows);

struct LogRank {
  std::vector<double> observed, expected;  ///< by group, in the order given
  double chi_square = 0;
  int df = 0;    ///< groups with an expectation, less one; 0: nothing to compare
  double p = 1;  ///< upper tail of the chi-square distribution
};
[[nodiscard]] LogRank log_rank(std::span<const std::vector<Observation>> groups);

struct Rate {
  int events = 0, n = 0;
  double rate = 0, lower = 0, upper = 1;  ///< Wilson score, two-sided 95 %, without continuity correction
};
/// Precondition: 0 <= events <= n. n = 0 gives 0 .. 1.
[[nodiscard]] Rate wilson(int events, int n);

/// Two-sided 95 %: the standard normal's 0.975 quantile.
inline constexpr double kZ95 = 1.959963984540054;
}  // namespace hb::comebacks
