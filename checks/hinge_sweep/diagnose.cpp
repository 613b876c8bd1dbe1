// Verdicts -> findings in assembly terms. A table of situations, first the ones that explain others.
#include <cmath>

#include "checks/hinge_sweep/hinge_sweep.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
namespace {
constexpr std::string_view kClosed = "hinge_sweep.offset_closed_deg",
                           kSquare = "hinge_sweep.offset_square_deg", kFlat = "hinge_sweep.offset_flat_deg",
                           kPlay = "hinge_sweep.hysteresis_deg", kGap = "hinge_sweep.gap_deg",
                           kGapAt = "hinge_sweep.gap_at_deg", kClusters = "hinge_sweep.dropout_clusters",
                           kRange = "hinge_sweep.range_deg";

/// Two stops off by the same amount, within 4 deg and a third of it (common practice, no source).
bool alike(std::optional<double> a, std::optional<double> b) {
  return a && b && (*a > 0) == (*b > 0) && std::abs(*a - *b) <= std::max(4.0, std::abs(*a) / 3);
}
}  // namespace

std::vector<Finding> HingeSweep::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config&) {
  const Seen s{verdicts};
  std::vector<Finding> out;

  if (s.bad(kClusters))
    out.push_back({"hinge_flex_loose",
                   "The angle sensor falls silent at the same angle each time the phone is folded.",
                   "Reseat the flex of the hinge sensor; if it is seated, look for a crack where it bends.",
                   {},
                   s.evidence({kClusters, kGap, kGapAt})});
  else if (s.bad(kGap))
    out.push_back(
        {"hinge_flex_loose",
         "The angle jumped during the sweep: either a flex that touches now and then, or a magnet or "
         "tool near the hinge.",
         "Clear the bench around the phone and run again; then reseat the hinge sensor's flex.",
         {},
         s.evidence({kGap, kGapAt})});

  if (s.bad(kPlay))
    out.push_back(
        {"hinge_sensor_play",
         "The angle at the square depends on the side it is approached from: either the sensor or its "
         "magnet has play in its seat, or the hinge itself has.",
         "Check the screws and the adhesive of the sensor and of its magnet, then the hinge screws.",
         {},
         s.evidence({kPlay, kClosed, kFlat})});

  const auto closed = s.value(kClosed), square = s.value(kSquare), flat = s.value(kFlat);
  const bool common = (s.bad(kClosed) || s.bad(kSquare) || s.bad(kFlat)) &&
                      ((s.bad(kSquare) && alike(square, closed)) || (s.bad(kSquare) && alike(square, flat)) ||
                       (!square && alike(closed, flat) && s.bad(kClosed) && s.bad(kFlat)));
  if (common)
    out.push_back(
        {"sensor_or_magnet_seated_wrong",
         "The angle is off by about the same amount at the stops: either the hinge sensor or its magnet "
         "sits wrong, or this display assembly has not been calibrated to this phone.",
         "Check the seat of the sensor and of its magnet; then the maker's calibration of the angle.",
         {},
         s.evidence({kClosed, kSquare, kFlat})});
  else if (s.bad(kClosed) && closed && *closed > 0 && !s.bad(kSquare) && !s.bad(kFlat) && !s.bad(kPlay))
    out.push_back(
        {"hinge_not_closing",
         "The phone does not close fully, although the angle is right at the square and when flat.",
         "Either something lies between the halves: look for a flex, adhesive or a screw caught there or in "
         "the hinge; do not force it. Or, when it closes fully to the eye, the hinge's magnet or its sensor "
         "sits a little off.",
         {},
         s.evidence({kClosed, kRange, kSquare, kFlat})});
  return out;
}

}  // namespace hb::checks
