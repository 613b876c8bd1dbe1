// Verdicts -> findings in assembly terms, axis by axis: first what explains the rest.
#include "checks/motion/motion.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
namespace {
constexpr std::string_view kGravity = "motion.gravity_error_ms2", kOffset = "motion.offset_ms2",
                           kResponse = "motion.response", kCross = "motion.cross_axis_pct",
                           kNoise = "motion.noise_ms2", kBias = "motion.gyro_bias_deg_s";
constexpr double kDead = 0.5;  // less than half of gravity: no answer to speak of; our choice

void of_axis(const Seen& s, std::vector<Finding>& out) {
  if (s.bad(kResponse) && s.find(kResponse)->measure.value < kDead)
    out.push_back(
        s.finding("axis_dead", "This axis of the accelerometer does not feel gravity: the sensor is damaged.",
                  "Look for a blow or heat near the sensor on the main board; the board needs repair.",
                  {kResponse, kOffset}));
  else if (s.bad(kOffset) || s.bad(kResponse))
    out.push_back(s.finding(
        "accelerometer_offset",
        "The accelerometer reads wrong on this axis at rest: either the main board is bent in its "
        "seat, or the sensor is damaged.",
        "Loosen the main board and seat it flat without strain; if it stays so, the sensor is damaged.",
        {kOffset, kResponse}));
  if (s.bad(kCross))
    out.push_back(s.finding(
        "sensor_board_tilted",
        "This axis also feels what belongs to another: either the board with the sensor sits tilted, "
        "or the phone did not lie flat on its faces.",
        "Run again on a level bench; then look at the seat of the main board.", {kCross}));
  if (s.bad(kBias))
    out.push_back(
        s.finding("gyro_biased",
                  "The gyroscope reports a turn while the phone lies still: either the sensor is "
                  "damaged, or it has lost its calibration.",
                  "Restart the phone and run again; if it stays so, the sensor on the main board is "
                  "damaged.",
                  {kBias}));
}
}  // namespace

std::vector<Finding> Motion::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config&) {
  std::vector<Finding> out;
  for (const Term axis : {Term("x"), Term("y"), Term("z")}) of_axis({verdicts, axis}, out);
  const Seen whole{verdicts, {}};
  const bool said = !out.empty();
  if (whole.bad(kGravity) && !said)
    out.push_back(whole.finding(
        "accelerometer_offset", "The accelerometer does not read gravity right at rest, on no axis clearly.",
        "Loosen the main board and seat it flat without strain; if it stays so, the sensor is damaged.",
        {kGravity}));
  if (whole.bad(kNoise))
    out.push_back(whole.finding(
        "not_at_rest", "The readings trembled: either the phone was not at rest, or the sensor is noisy.",
        "Run again with the phone let go on a firm bench.", {kNoise}));
  return out;
}

}  // namespace hb::checks
