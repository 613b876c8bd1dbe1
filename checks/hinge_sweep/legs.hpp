/// Half cycles, gaps and stop readings of a sweep. Pure; any thread. Degrees and seconds.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "checks/hinge_sweep/hinge_sweep.hpp"

namespace hb::checks::hinge {
using Events = std::span<const HingeSweep::Event>;

/// Events with begin_s <= t <= end_s.
[[nodiscard]] Events inside(Events all, const HingeSweep::Window& w);

/// One half cycle: events [first, last], from one turning point to the next.
struct Leg {
  std::size_t first = 0, last = 0;
  bool opening = false;
};
/// Turning points are extremes that the angle then leaves by more than 40 % of the whole range (at least
/// 20 deg): noise and a hand's tremble make none.
[[nodiscard]] std::vector<Leg> half_cycles(Events cycles);

/// True for each event i >= 1 when some poll showed both i - 1 and i: then nothing lies between them that
/// was missed. False: events may have been lost by polling too slowly, so the step says nothing of the
/// sensor.
[[nodiscard]] std::vector<bool> step_was_seen_whole(Events events, std::span<const HingeSweep::Poll> polls);

/// A step between two successive events that is larger than its neighbours explain.
struct Gap {
  double excess_deg = 0;   ///< step less the median of the four steps on either side
  double typical_deg = 0;  ///< that median
  double low_deg = 0, high_deg = 0;
  std::size_t leg = 0;
};
struct Gaps {
  std::vector<Gap> all;      ///< every seen step, as a Gap
  double lost_fraction = 0;  ///< of the travel, in steps that were not seen whole
};
/// `whole` is step_was_seen_whole() of the same events; its first value does not count.
[[nodiscard]] Gaps gaps(Events cycles, std::span<const Leg> legs, const std::vector<bool>& whole);

/// Places where gaps of more than `threshold_deg` of at least half of the legs (two or more) overlap.
[[nodiscard]] int dropout_clusters(std::span<const Gap> gaps, std::size_t legs, double threshold_deg);

/// What the sensor said while the hinge was held at a stop.
struct Rest {
  double deg = 0;
  double sd = 0;
  std::int64_t n = 0;
  bool held = false;  ///< no event while at rest: the last value before, which an on-change sensor keeps
};
/// Median of the settled part of the window: its last 40 %, at most 1 s. nullopt: nothing can be said: no
/// event there, and the last ones before do not show the motion coming to rest (a drop-out looks like that).
/// `whole` is step_was_seen_whole(all): a silence in which events may have been lost is no rest.
[[nodiscard]] std::optional<Rest> rest_at(Events all, const std::vector<bool>& whole,
                                          const HingeSweep::Window& w);

}  // namespace hb::checks::hinge
