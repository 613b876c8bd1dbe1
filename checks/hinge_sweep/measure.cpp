// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>
#include <limits>

#include "checks/hinge_sweep/hinge_sweep.hpp"
#include "checks/kernel/isotonic.hpp"
#include "checks/kernel/summary.hpp"
#include "legs.hpp"

namespace hb::checks {
namespace {
using namespace hinge;

constexpr double kReference_deg = 0.3;  // the square, or the hinge's own end stop: common practice, no source
constexpr double kSeating_deg = 0.15;   // laying it against the same square again: common practice, no source
constexpr double kPrintStep_deg = 0.01;     // two decimals: AOSP RecentEventLogger
constexpr double kMedianFactor = 1.2533;    // sd of a median over that of a mean, normal data: sqrt(pi / 2)
constexpr double kLostTravelAllowed = 0.2;  // above it gaps cannot be judged: our choice
constexpr double kSwitchDelay_deg = 3;      // fold logic follows the angle late, in motion: our estimate
constexpr double kDropout_deg = 6;          // smallest gap that counts for a cluster: our choice

double root(std::initializer_list<double> parts) {
  double s = 0;
  for (const double p : parts) s += p * p;
  return std::sqrt(s);
}
double rounding(double step) { return step / std::sqrt(12.0); }

bool in_order(const HingeSweep::Capture& c) {
  const auto rising = [](auto& a, auto& b) { return !(a.t_s < b.t_s); };
  if (std::adjacent_find(c.events.begin(), c.events.end(), rising) != c.events.end()) return false;
  return std::all_of(c.events.begin(), c.events.end(),
                     [](auto& e) { return std::isfinite(e.t_s) && std::abs(e.deg) < 1e4; });
}

struct Reading {
  double deg = 0, u = 0;
  std::int64_t n = 0;
};

/// Builds the measures one group after another.
class Sweep {
 public:
  Sweep(const HingeSweep::Capture& c, const HingeSweep::Config& config)
      : c_(c),
        config_(config),
        cycles_(inside(c.events, c.cycles)),
        whole_(step_was_seen_whole(c.events, c.polls)),
        legs_(half_cycles(cycles_)) {
    for (const auto& s : c.stops) rests_.push_back(rest_at(c.events, whole_, s.window));
    find_noise();
  }

  Measured take() {
    stops();
    play();
    shape();
    dropouts();
    ends();
    switches();
    add("hinge_sweep.events", static_cast<double>(c_.events.size()), 0, "1",
        static_cast<std::int64_t>(c_.events.size()));
    out_.plots.push_back(curve());
    return std::move(out_);
  }

 private:
  void add(Term key, double value, double u, Term unit, std::int64_t n) {
    out_.measures.push_back({key, {}, value, u, unit, n});
  }

  /// Pooled sd at rest; a sensor that is quiet at rest has less noise than the smallest step it reports.
  void find_noise() {
    double ss = 0;
    std::int64_t n = 0, stops = 0;
    bool held = false;
    for (const auto& r : rests_) {
      if (!r) continue;
      held = held || r->held;
      if (r->held) continue;
      ss += r->sd * r->sd * static_cast<double>(r->n - 1);
      n += r->n;
      ++stops;
    }
    if (n - stops >= 2) {
      const double dof = static_cast<double>(n - stops);
      noise_ = std::max(std::sqrt(ss / dof), rounding(kPrintStep_deg));
      add("hinge_sweep.noise_deg", noise_, noise_ / std::sqrt(2 * dof), "deg", n);
      return;
    }
    double step = std::numeric_limits<double>::max();
    for (std::size_t i = 1; i < c_.events.size(); ++i)
      if (const double d = std::abs(c_.events[i].deg - c_.events[i - 1].deg); d > 0) step = std::min(step, d);
    if (step > 10) step = 1;
    noise_ = rounding(step);
    if (held) add("hinge_sweep.noise_deg", noise_, noise_, "deg", 1);
  }

  [[nodiscard]] Reading reading(const Rest& r) const {
    const double n = std::max<double>(1, static_cast<double>(r.n));
    return {r.deg, root({kMedianFactor * noise_ / std::sqrt(n), rounding(kPrintStep_deg)}), r.n};
  }
  /// Mean of the readings at one stop; `from_deg` picks one side.
  [[nodiscard]] std::optional<Reading> at(double deg, std::optional<double> from_deg = {}) const {
    Reading sum;
    double k = 0, uu = 0;
    for (std::size_t i = 0; i < rests_.size(); ++i) {
      const auto& s = c_.stops[i];
      if (!rests_[i] || s.at_deg != deg || (from_deg && s.from_deg != *from_deg)) continue;
      const Reading r = reading(*rests_[i]);
      sum.deg += r.deg;
      sum.n += r.n;
      uu += r.u * r.u;
      k += 1;
    }
    if (k == 0) return std::nullopt;
    return Reading{sum.deg / k, std::sqrt(uu) / k, sum.n};
  }

  void stops() {
    const auto closed = at(config_.closed_deg), flat = at(config_.flat_deg);
    // Play moves the two approaches to opposite sides: their mean is the offset, so both are needed.
    const auto up = at(90, config_.closed_deg), down = at(90, config_.flat_deg);
    const auto offset = [&](Term key, const Reading& r, double stop) {
      add(key, r.deg - stop, root({r.u, kReference_deg}), "deg", r.n);
      stop_.push_back(stop);
      stop_reported_.push_back(r.deg);
    };
    if (closed) offset("hinge_sweep.offset_closed_deg", *closed, config_.closed_deg);
    if (up && down)
      offset("hinge_sweep.offset_square_deg",
             {(up->deg + down->deg) / 2, root({up->u, down->u}) / 2, up->n + down->n}, 90);
    if (flat) offset("hinge_sweep.offset_flat_deg", *flat, config_.flat_deg);
    if (closed && flat)
      add("hinge_sweep.range_deg", flat->deg - closed->deg,
          root({closed->u, flat->u, kReference_deg, kReference_deg}), "deg", closed->n + flat->n);
  }

  void play() {
    const auto up = at(90, config_.closed_deg), down = at(90, config_.flat_deg);
    if (!up || !down) return;
    add("hinge_sweep.hysteresis_deg", std::abs(down->deg - up->deg),
        root({up->u, down->u, kSeating_deg, kSeating_deg}), "deg", up->n + down->n);
  }

  /// A stretch in which events were lost may hide a whole turn, so only legs that were seen whole count.
  void shape() {
    double ss = 0, n = 0;
    for (const Leg& l : legs_) {
      std::vector<double> y;
      bool whole = true;
      for (std::size_t i = l.first; i <= l.last; ++i) {
        whole = whole && (i == l.first || cycle_step_was_seen(i));
        y.push_back(l.opening ? cycles_[i].deg : -cycles_[i].deg);
      }
      if (!whole) continue;
      const double rms = kernel::monotone_residual_rms(y);
      ss += rms * rms * static_cast<double>(y.size());
      n += static_cast<double>(y.size());
    }
    if (n < 20) return;
    const double rms = std::sqrt(ss / n);
    add("hinge_sweep.monotone_residual_deg", rms, root({rms / std::sqrt(2 * n), rounding(kPrintStep_deg)}),
        "deg", static_cast<std::int64_t>(n));
  }

  void dropouts() {
    const auto from = whole_.begin() + (cycles_.data() - c_.events.data());
    const Gaps g = gaps(cycles_, legs_, {from, from + static_cast<std::ptrdiff_t>(cycles_.size())});
    if (legs_.size() < 2 || g.all.size() < 20 || g.lost_fraction > kLostTravelAllowed) return;
    const auto worst = std::max_element(g.all.begin(), g.all.end(),
                                        [](auto& a, auto& b) { return a.excess_deg < b.excess_deg; });
    const auto n = static_cast<std::int64_t>(g.all.size());
    const double u = root({std::sqrt(2.0) * noise_, rounding(worst->typical_deg), rounding(kPrintStep_deg)});
    add("hinge_sweep.gap_deg", std::max(0.0, worst->excess_deg), u, "deg", n);
    add("hinge_sweep.gap_at_deg", (worst->low_deg + worst->high_deg) / 2,
        root({u, rounding(worst->high_deg - worst->low_deg)}), "deg", 1);
    const double threshold = std::max(kDropout_deg, 6 * noise_);
    add("hinge_sweep.dropout_clusters", dropout_clusters(g.all, legs_.size(), threshold), 0, "1", n);
  }

  /// Nothing was lost between cycles_[i - 1] and cycles_[i].
  [[nodiscard]] bool cycle_step_was_seen(std::size_t i) const {
    const std::size_t at = static_cast<std::size_t>(cycles_.data() - c_.events.data()) + i;
    return at == 0 || at >= whole_.size() || whole_[at];
  }
  /// Nothing was lost on either side of a turning point, so the turn itself was seen.
  [[nodiscard]] bool turn_was_seen(std::size_t turn) const {
    return cycle_step_was_seen(turn) && cycle_step_was_seen(turn + 1);
  }

  /// How alike the ends of the cycles are: sd about their own mean, closed and flat pooled.
  void ends() {
    std::vector<double> low, high;
    const auto plateau = [&](std::size_t turn, std::vector<double>& into) {
      constexpr double kNear_deg = 3, kNear_s = 1;
      if (!turn_was_seen(turn)) return;
      std::vector<double> v;
      for (const auto& e : cycles_)
        if (std::abs(e.t_s - cycles_[turn].t_s) <= kNear_s &&
            std::abs(e.deg - cycles_[turn].deg) <= kNear_deg)
          v.push_back(e.deg);
      if (!v.empty()) into.push_back(kernel::median(v));
    };
    for (const Leg& l : legs_) plateau(l.last, l.opening ? high : low);
    if (low.size() < 2 || high.size() < 2) return;
    const double dof = static_cast<double>(low.size() + high.size() - 2);
    const double sl = kernel::standard_deviation(low), sh = kernel::standard_deviation(high);
    const double s = std::sqrt(
        (sl * sl * static_cast<double>(low.size() - 1) + sh * sh * static_cast<double>(high.size() - 1)) /
        dof);
    add("hinge_sweep.repeatability_deg", s, root({s / std::sqrt(2 * dof), rounding(kPrintStep_deg)}), "deg",
        static_cast<std::int64_t>(low.size() + high.size()));
  }

  [[nodiscard]] double angle_at(double t_s) const {
    const auto until = inside(c_.events, {-1e300, t_s});
    return until.empty() ? c_.events.front().deg : until.back().deg;
  }
  /// The angle at which the state changes is between the angles around the two readings; the brackets of
  /// all cycles together narrow it.
  void switch_angle(Term key, Term error_key, int to, bool closing, std::optional<double> expected) {
    double low = -1e9, high = 1e9;
    std::int64_t n = 0;
    for (std::size_t i = 1; i < c_.states.size(); ++i) {
      const auto &a = c_.states[i - 1], &b = c_.states[i];
      if (a.state == to || b.state != to || a.state == 0) continue;
      const double before = angle_at(a.after_s), after = angle_at(b.before_s);
      if (closing != (after < before)) continue;
      low = std::max(low, std::min(before, after));
      high = std::min(high, std::max(before, after));
      ++n;
    }
    if (n == 0) return;
    if (low > high) std::swap(low, high);  // brackets that miss each other by noise or a delay of the phone
    add(key, (low + high) / 2, root({rounding(high - low), noise_}), "deg", n);
    if (!expected) return;
    const double outside = std::max({0.0, low - *expected, *expected - high});
    add(error_key, outside, root({kSwitchDelay_deg, noise_}), "deg", n);
  }
  void switches() {
    switch_angle("hinge_sweep.switch_closed_deg", "hinge_sweep.switch_closed_error_deg", 1, true,
                 config_.fold_closed_below_deg);
    switch_angle("hinge_sweep.switch_open_deg", "hinge_sweep.switch_open_error_deg", 3, false,
                 config_.fold_open_above_deg);
  }

  [[nodiscard]] Plot curve() const {
    constexpr std::size_t kPoints = 200;
    Series t{"t", "s", {}}, angle{"angle", "deg", {}};
    const std::size_t step = (c_.events.size() + kPoints - 1) / kPoints;
    for (std::size_t i = 0; i < c_.events.size(); i += step) {
      t.values.push_back(c_.events[i].t_s - c_.events.front().t_s);
      angle.values.push_back(c_.events[i].deg);
    }
    Plot p;
    p.kind = "hinge_curve";
    p.series = {std::move(t),
                std::move(angle),
                {"stop_deg", "deg", stop_},
                {"stop_reported_deg", "deg", stop_reported_}};
    return p;
  }

  const HingeSweep::Capture& c_;
  const HingeSweep::Config& config_;
  Events cycles_;
  std::vector<bool> whole_;  ///< of c_.events
  std::vector<Leg> legs_;
  std::vector<std::optional<Rest>> rests_;
  double noise_ = 0;
  std::vector<double> stop_, stop_reported_;
  Measured out_;
};
}  // namespace

Result<Measured> HingeSweep::measure(const Capture& capture, const Config& config) {
  if (capture.events.empty())
    return Error{ErrorCode::unsupported, "the hinge sensor showed no events: not exercised", "hinge", ""};
  if (!in_order(capture))
    return Error{ErrorCode::bad_format, "the capture is torn: its times do not increase", "hinge_sweep",
                 "Run the check again."};
  return Sweep(capture, config).take();
}

}  // namespace hb::checks
