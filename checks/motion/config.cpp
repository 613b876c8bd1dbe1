#include "checks/motion/motion.hpp"

namespace hb::checks {

CheckInfo Motion::needs() {
  return {"motion",
          "Motion sensors",
          "Motion sensors",
          {Resource::hands},
          std::chrono::seconds{45},
          "Lay the screen on a soft clean cloth. Do not let the phone fall over on its edges."};
}

std::vector<SectionSpec> Motion::sections() {
  return {{"motion",
           false,
           {{"rest_s", KeyType::number, "seconds to listen on each face, 1 to 20", false, 1, 20},
            {"gyroscope", KeyType::boolean, "false when the model has no gyroscope", false}}}};
}

Result<Motion::Config> Motion::configure(const Sections& sections) {
  Config c;
  if (const Section* s = sections.one("motion")) {
    c.rest_s = s->number("rest_s", 2);
    c.gyroscope = s->boolean("gyroscope", true);
  }
  return c;
}

std::vector<Term> Motion::limit_keys() {
  return {"motion.gravity_error_ms2", "motion.offset_ms2", "motion.response",       "motion.cross_axis_pct",
          "motion.noise_ms2",         "motion.events",     "motion.gyro_bias_deg_s"};
}

}  // namespace hb::checks
