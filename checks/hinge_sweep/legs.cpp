#include "legs.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/summary.hpp"

namespace hb::checks::hinge {

Events inside(Events all, const HingeSweep::Window& w) {
  const auto first = std::partition_point(all.begin(), all.end(), [&](auto& e) { return e.t_s < w.begin_s; });
  const auto last = std::partition_point(first, all.end(), [&](auto& e) { return e.t_s <= w.end_s; });
  return {first, last};
}

std::vector<Leg> half_cycles(Events v) {
  if (v.size() < 2) return {};
  const auto [lo, hi] =
      std::minmax_element(v.begin(), v.end(), [](auto& a, auto& b) { return a.deg < b.deg; });
  const double threshold = std::max(20.0, 0.4 * (hi->deg - lo->deg));
  if (hi->deg - lo->deg < threshold) return {};

  std::vector<Leg> legs;
  std::size_t low = 0, high = 0, start = 0;
  int direction = 0;  // of the leg under way: +1 opening, -1 closing, 0 not known yet
  for (std::size_t i = 1; i < v.size(); ++i) {
    if (v[i].deg > v[high].deg) high = i;
    if (v[i].deg < v[low].deg) low = i;
    const bool turned_down = direction >= 0 && v[high].deg - v[i].deg > threshold;
    const bool turned_up = direction <= 0 && v[i].deg - v[low].deg > threshold;
    if (!turned_down && !turned_up) continue;
    const std::size_t turn = turned_down ? high : low;
    if (direction != 0) legs.push_back({start, turn, direction > 0});
    start = turn;
    direction = turned_down ? -1 : 1;
    (turned_down ? low : high) = i;
  }
  if (direction != 0) legs.push_back({start, direction > 0 ? high : low, direction > 0});
  return legs;
}

std::vector<bool> step_was_seen_whole(Events events, std::span<const HingeSweep::Poll> polls) {
  std::vector<bool> seen(events.size(), false);
  std::size_t p = 0;
  for (std::size_t i = 1; i < events.size(); ++i) {
    while (p < polls.size() && polls[p].newest_s < events[i].t_s) ++p;
    seen[i] = p < polls.size() && polls[p].oldest_s <= events[i - 1].t_s;
  }
  return seen;
}

Gaps gaps(Events v, std::span<const Leg> legs, const std::vector<bool>& whole) {
  constexpr std::size_t kSide = 4;
  constexpr double kTurn_deg = 10;
  Gaps out;
  double travel = 0, lost = 0;
  for (std::size_t l = 0; l < legs.size(); ++l) {
    for (std::size_t i = legs[l].first + 1; i <= legs[l].last; ++i) {
      const double step = std::abs(v[i].deg - v[i - 1].deg);
      travel += step;
      if (!whole[i]) {
        lost += step;
        continue;
      }
      const auto at_turn = [&](std::size_t turn) {
        return std::abs(v[i].deg - v[turn].deg) < kTurn_deg &&
               std::abs(v[i - 1].deg - v[turn].deg) < kTurn_deg;
      };
      if (at_turn(legs[l].first) || at_turn(legs[l].last)) continue;
      std::vector<double> around;
      const std::size_t from = i > kSide ? i - kSide : 1;
      for (std::size_t k = from; k <= std::min(i + kSide, v.size() - 1); ++k)
        if (k != i && whole[k]) around.push_back(std::abs(v[k].deg - v[k - 1].deg));
      if (around.size() < 3) continue;
      const double typical = kernel::median(around);
      out.all.push_back(
          {step - typical, typical, std::min(v[i].deg, v[i - 1].deg), std::max(v[i].deg, v[i - 1].deg), l});
    }
  }
  out.lost_fraction = travel > 0 ? lost / travel : 0;
  return out;
}

int dropout_clusters(std::span<const Gap> gaps, std::size_t legs, double threshold_deg) {
  std::vector<Gap> large;
  std::copy_if(gaps.begin(), gaps.end(), std::back_inserter(large),
               [&](const Gap& g) { return g.excess_deg > threshold_deg; });
  std::sort(large.begin(), large.end(), [](auto& a, auto& b) { return a.low_deg < b.low_deg; });
  const std::size_t needed = std::max<std::size_t>(2, (legs + 1) / 2);
  int clusters = 0;
  for (std::size_t i = 0; i < large.size();) {
    double end = large[i].high_deg;
    std::vector<std::size_t> which;
    std::size_t k = i;
    for (; k < large.size() && large[k].low_deg < end; ++k) {
      which.push_back(large[k].leg);
      end = std::max(end, large[k].high_deg);
    }
    std::sort(which.begin(), which.end());
    which.erase(std::unique(which.begin(), which.end()), which.end());
    if (which.size() >= needed) ++clusters;
    i = k;
  }
  return clusters;
}

namespace {
/// The motion came to rest before the silence: the last step was slow, or slowing down, and the first event
/// afterwards went on from there. The bounds are our choice; a drop-out in full motion meets neither.
bool came_to_rest(Events all, const std::vector<bool>& whole, std::size_t last) {
  constexpr double kSlow_deg_s = 10, kSlowing_deg_s = 40, kSlowing = 0.7, kStep_deg = 3;
  if (last < 2 || !whole[last] || !whole[last - 1]) return false;
  if (last + 1 < all.size() && !whole[last + 1]) return false;
  const double step = std::abs(all[last].deg - all[last - 1].deg);
  const double step_before = std::abs(all[last - 1].deg - all[last - 2].deg);
  const double speed = step / (all[last].t_s - all[last - 1].t_s);
  if (speed > kSlow_deg_s && !(speed <= kSlowing_deg_s && step <= kSlowing * step_before)) return false;
  return last + 1 >= all.size() || std::abs(all[last + 1].deg - all[last].deg) <= kStep_deg;
}
}  // namespace

std::optional<Rest> rest_at(Events all, const std::vector<bool>& whole, const HingeSweep::Window& w) {
  const double settled_s = std::min(1.0, 0.4 * (w.end_s - w.begin_s));
  const auto settled = inside(all, {w.end_s - settled_s, w.end_s});
  if (settled.size() >= 3) {
    std::vector<double> deg;
    for (const auto& e : settled) deg.push_back(e.deg);
    return Rest{kernel::median(deg), kernel::standard_deviation(deg), static_cast<std::int64_t>(deg.size()),
                false};
  }
  const auto until = inside(all, {-1e300, w.end_s});
  if (until.empty() || !came_to_rest(all, whole, until.size() - 1)) return std::nullopt;
  return Rest{until.back().deg, 0, 1, true};
}

}  // namespace hb::checks::hinge
