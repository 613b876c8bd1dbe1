#include "checks/hinge_sweep/hinge_sweep.hpp"

namespace hb::checks {

CheckInfo HingeSweep::needs() {
  return {"hinge_sweep",
          "Hinge-angle sweep",
          "Hinge and fold sensor",
          {Resource::hinge, Resource::hands, Resource::screen, Resource::battery_load},
          std::chrono::seconds{45},
          "Fold by the frame, not by the glass. Stop at once if the hinge grinds or the screen lifts."};
}

std::vector<SectionSpec> HingeSweep::sections() {
  return {
      {"hinge",
       false,
       {{"sensor_type", KeyType::integer, "the sensor's type number (36 is the hinge angle)", false, 1, 1e9},
        {"closed_deg", KeyType::number, "the angle when closed, in degrees", true, -10, 30},
        {"flat_deg", KeyType::number, "the angle when flat, in degrees", true, 90, 360},
        {"cycles", KeyType::integer, "close-open cycles, 2 to 20", false, 2, 20},
        {"fold_closed_below_deg", KeyType::number, "degrees below which the phone says closed", false, 0,
         180},
        {"fold_open_above_deg", KeyType::number, "degrees above which the phone says open", false, 0, 360}}}};
}

Result<HingeSweep::Config> HingeSweep::configure(const Sections& sections) {
  const Section* s = sections.one("hinge");
  if (s == nullptr)
    return Error{ErrorCode::unsupported, "the profile has no [hinge] section: this model has no hinge",
                 "hinge", ""};
  Config c;
  c.sensor_type = static_cast<int>(s->integer("sensor_type", 36));
  c.closed_deg = s->number("closed_deg", 0);
  c.flat_deg = s->number("flat_deg", 180);
  c.cycles = static_cast<int>(s->integer("cycles", 4));
  if (s->has("fold_closed_below_deg")) c.fold_closed_below_deg = s->number("fold_closed_below_deg");
  if (s->has("fold_open_above_deg")) c.fold_open_above_deg = s->number("fold_open_above_deg");
  if (c.closed_deg + 60 > c.flat_deg)
    return Error{ErrorCode::invalid_argument, "flat_deg must be at least 60 above closed_deg",
                 "hinge.flat_deg", "Give the angles that the phone reports when closed and when flat."};
  if (c.fold_closed_below_deg && c.fold_open_above_deg && *c.fold_closed_below_deg >= *c.fold_open_above_deg)
    return Error{ErrorCode::invalid_argument, "fold_closed_below_deg must be below fold_open_above_deg",
                 "hinge.fold_closed_below_deg", "Exchange the two."};
  return c;
}

std::vector<Term> HingeSweep::limit_keys() {
  return {"hinge_sweep.range_deg",
          "hinge_sweep.offset_closed_deg",
          "hinge_sweep.offset_square_deg",
          "hinge_sweep.offset_flat_deg",
          "hinge_sweep.hysteresis_deg",
          "hinge_sweep.monotone_residual_deg",
          "hinge_sweep.gap_deg",
          "hinge_sweep.gap_at_deg",
          "hinge_sweep.dropout_clusters",
          "hinge_sweep.noise_deg",
          "hinge_sweep.repeatability_deg",
          "hinge_sweep.switch_closed_deg",
          "hinge_sweep.switch_open_deg",
          "hinge_sweep.switch_closed_error_deg",
          "hinge_sweep.switch_open_error_deg",
          "hinge_sweep.events"};
}

}  // namespace hb::checks
