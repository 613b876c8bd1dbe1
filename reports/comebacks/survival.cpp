#include "reports/comebacks/survival.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>

namespace hb::comebacks {
namespace {
std::vector<Observation> sorted(std::span<const Observation> data) {
  std::vector<Observation> d(data.begin(), data.end());
  std::sort(d.begin(), d.end(), [](const auto& a, const auto& b) { return a.time < b.time; });
  return d;
}

void set_limits(KmRow& row, double greenwood_sum) {
  const double s = row.survival;
  if (s <= 0) return;
  row.se = s * std::sqrt(greenwood_sum);
  if (s >= 1) return;
  const double w = kZ95 * *row.se / (s * std::abs(std::log(s)));
  row.lower = std::pow(s, std::exp(w));
  row.upper = std::pow(s, std::exp(-w));
}

/// First time at which `curve` has come down to one half. R's rule for a curve that stays exactly there (the
/// middle of the flat) is taken over: see median().
template <class F>
std::optional<double> crossing(std::span<const KmRow> rows, F&& curve) {
  constexpr double kTolerance = 1e-9;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const std::optional<double> s = curve(rows[i]);
    if (!s || *s > 0.5 + kTolerance) continue;
    if (*s > 0.5 - kTolerance && i + 1 < rows.size()) return (rows[i].time + rows[i + 1].time) / 2;
    return rows[i].time;
  }
  return std::nullopt;
}
}  // namespace

std::vector<KmRow> kaplan_meier(std::span<const Observation> data) {
  const auto d = sorted(data);
  std::vector<KmRow> rows;
  double survival = 1, greenwood_sum = 0;
  for (std::size_t i = 0; i < d.size();) {
    std::size_t j = i;
    int events = 0;
    for (; j < d.size() && d[j].time == d[i].time; ++j) events += d[j].event ? 1 : 0;
    if (events > 0) {
      const double n = static_cast<double>(d.size() - i);
      survival = events == static_cast<int>(d.size() - i) ? 0 : survival * (1 - events / n);
      greenwood_sum += events / (n * (n - events));
      rows.push_back({d[i].time, static_cast<int>(d.size() - i), events, survival, {}, {}, {}});
      set_limits(rows.back(), greenwood_sum);
    }
    i = j;
  }
  return rows;
}

Median median(std::span<const KmRow> rows) {
  return {crossing(rows, [](const KmRow& r) { return std::optional(r.survival); }),
          crossing(rows, [](const KmRow& r) { return r.lower; }),
          crossing(rows, [](const KmRow& r) { return r.upper; })};
}

LogRank log_rank(std::span<const std::vector<Observation>> groups) {
  struct Seen {
    double time;
    bool event;
    std::size_t group;
  };
  const std::size_t k = groups.size();
  std::vector<Seen> all;
  std::vector<double> at_risk(k, 0.0);
  for (std::size_t g = 0; g < k; ++g) {
    for (const auto& o : groups[g]) all.push_back({o.time, o.event, g});
    at_risk[g] = static_cast<double>(groups[g].size());
  }
  std::sort(all.begin(), all.end(), [](const Seen& a, const Seen& b) { return a.time < b.time; });

  LogRank out;
  out.observed.assign(k, 0.0);
  out.expected.assign(k, 0.0);
  const auto ek = static_cast<Eigen::Index>(k);
  Eigen::MatrixXd v = Eigen::MatrixXd::Zero(ek, ek);
  for (std::size_t i = 0; i < all.size();) {
    const double n = static_cast<double>(all.size() - i);
    double d = 0;
    std::size_t j = i;
    for (; j < all.size() && all[j].time == all[i].time; ++j) {
      if (!all[j].event) continue;
      d += 1;
      out.observed[all[j].group] += 1;
    }
    // Hypergeometric mean and covariance of the events by group, given the margins.
    const double factor = n > 1 ? d * (n - d) / (n - 1) : 0;
    for (std::size_t a = 0; a < k; ++a) {
      out.expected[a] += d * at_risk[a] / n;
      for (std::size_t b = 0; b < k; ++b)
        v(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b)) +=
            factor * (at_risk[a] / n) * ((a == b ? 1.0 : 0.0) - at_risk[b] / n);
    }
    for (; i < j; ++i) at_risk[all[i].group] -= 1;
  }

  // As survdiff does: groups that nothing was expected of are left out, and one of the rest is redundant.
  std::vector<std::size_t> kept;
  for (std::size_t g = 0; g < k; ++g)
    if (out.expected[g] > 0) kept.push_back(g);
  if (kept.size() < 2) return out;
  kept.erase(kept.begin());
  out.df = static_cast<int>(kept.size());
  Eigen::VectorXd diff(out.df);
  Eigen::MatrixXd w(out.df, out.df);
  for (int a = 0; a < out.df; ++a) {
    const auto ga = kept[static_cast<std::size_t>(a)];
    diff(a) = out.observed[ga] - out.expected[ga];
    for (int b = 0; b < out.df; ++b)
      w(a, b) =
          v(static_cast<Eigen::Index>(ga), static_cast<Eigen::Index>(kept[static_cast<std::size_t>(b)]));
  }
  out.chi_square = diff.dot(Eigen::VectorXd(w.colPivHouseholderQr().solve(diff)));
  const boost::math::chi_squared distribution(out.df);
  out.p = boost::math::cdf(boost::math::complement(distribution, std::max(out.chi_square, 0.0)));
  return out;
}

Rate wilson(int events, int n) {
  Rate r{events, n, 0, 0, 1};
  if (n <= 0) return r;
  const double m = n, p = events / m, z2 = kZ95 * kZ95;
  const double middle = p + z2 / (2 * m);
  const double half = kZ95 * std::sqrt(p * (1 - p) / m + z2 / (4 * m * m));
  r.rate = p;
  r.lower = events == 0 ? 0 : (middle - half) / (1 + z2 / m);
  r.upper = events == n ? 1 : (middle + half) / (1 + z2 / m);
  return r;
}
}  // namespace hb::comebacks
