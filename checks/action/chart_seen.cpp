#include "checks/action/chart_seen.hpp"

namespace hb::checks {

Term to_change(ChartSeen seen) noexcept {
  switch (seen) {
    case ChartSeen::too_dark:
      return "the chart is too dark for a camera: put more light on it";
    case ChartSeen::too_bright:
      return "the chart is too bright for a camera: take light away or shade the lamp";
    case ChartSeen::edges_unreadable:
      return "the chart's tiles were seen but not their edges: rest the phone, clean the lens, lay the chart "
             "flat";
    case ChartSeen::wrong_size:
      return "a camera gave another picture size than the profile asks for";
    case ChartSeen::too_far:
      return "the chart is too small in the picture: go nearer, until it nearly fills the height";
    case ChartSeen::too_near:
      return "the chart is too large in the picture: go farther away";
    case ChartSeen::cut_off:
      return "the chart is cut off: go farther away, or aim at its middle";
    case ChartSeen::right_side_away:
      return "the chart is tilted, its right side is farther away: turn the phone until both sides look "
             "alike";
    case ChartSeen::left_side_away:
      return "the chart is tilted, its left side is farther away: turn the phone until both sides look alike";
    case ChartSeen::lower_side_away:
      return "the chart is tilted, its lower side is farther away: tip the phone until both look alike";
    case ChartSeen::upper_side_away:
      return "the chart is tilted, its upper side is farther away: tip the phone until both look alike";
    case ChartSeen::rolled:
      return "the chart is not level in the picture: hold the phone level, in landscape";
    case ChartSeen::moved:
      return "the picture is blurred by movement: rest the phone on something and hold still";
    case ChartSeen::uneven_light:
      return "the chart is lit from one side: light it evenly";
    case ChartSeen::reflection:
      return "a lamp is mirrored in the chart: move the lamp or turn the chart a little";
    case ChartSeen::spots_stay:
      return "small spots stay in the picture: hold the phone a little elsewhere before the chart, so that "
             "the "
             "chart's own specks move in it";
    case ChartSeen::no_chart:
    case ChartSeen::measured:
      break;
  }
  return "a camera did not see the chart: hold the phone level in landscape and fill the frame with the "
         "chart";
}

}  // namespace hb::checks
