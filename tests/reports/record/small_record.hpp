/// A small whole record for the tests of the reports.
#pragma once

#include "reports/record/record.hpp"

namespace hb::testing_support {
inline record::Record small_record() {
  record::Record r;
  r.run_id = "01JDGZ0000ABCDEFGHJKMNPQRS";
  r.kind = record::RunKind::release;
  r.job.id = "J-20261125-0001";
  r.job.opened_utc = "2026-11-25T08:00:00Z";
  r.job.fault = Term("display black after a fall");
  r.job.parts_fitted = {record::Part{Term("display-hinge assembly"), Term("LOT-24K7")}};
  r.job.repair_kind = Term("display-hinge swap");
  r.job.consent_tests = true;
  r.job.cure_hours = 24;
  r.bench = {Term("Demo shop"), Term("bench 1"), Term("ask at the counter"), std::string(43, 'k')};
  r.started_utc = "2026-11-25T09:00:00Z";
  r.finished_utc = "2026-11-25T09:20:00Z";
  r.clock = "wall";
  r.link = "tcp";
  r.phone_tag = "0123456789abcdef";
  r.phone_tail = "7K2Q";
  r.model = Term("Velmora Petal");
  r.profile_sha256 = std::string(64, 'a');
  r.software = "handback 0.1.0";
  const checks::Measure m{"hinge_sweep.offset_flat_deg", {}, 1.0 / 3, 0.05, "deg", 12};
  const checks::Limit limit{"hinge_sweep.offset_flat_deg", {}, -2.0, 2.0, checks::LimitOrigin::learned};
  checks::CheckResult c;
  c.id = "hinge_sweep";
  c.title = c.customer_title = "Hinge";
  c.outcome = checks::Outcome::pass;
  c.verdicts = {{m, limit, checks::Outcome::pass, 0.08, 1e-9},
                {m, std::nullopt, checks::Outcome::not_tested, 0, 0}};
  c.findings = {{"magnet_shifted", "the angle is off everywhere", "hinge sensor", {}, {m}}};
  c.plots = {{"hinge_curve", {}, 0, 0, {{"opening", "deg", {1.0 / 3, 123456.789, 0}}}}};
  r.checks = {c};
  r.outcome = checks::Outcome::pass;
  return r;
}
}  // namespace hb::testing_support
