#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <nlohmann/json.hpp>

#include "reports/record/record.hpp"
#include "reports/record/words.hpp"

namespace hb::record {
namespace {
using nlohmann::json;

json text(Term t) { return json(t.str()); }
json text(const ShopText& t) { return json(t.str()); }

/// 5 significant digits: plots are for drawing, and a record travels inside a one-page sheet.
double rounded(double v) {
  if (!std::isfinite(v)) return v;
  std::array<char, 32> b{};
  const auto r = std::to_chars(b.data(), b.data() + b.size(), v, std::chars_format::scientific, 4);
  double out = v;
  std::from_chars(b.data(), r.ptr, out);
  return out;
}

json measure_json(const checks::Measure& m) {
  return {{"key", text(m.key)}, {"part", text(m.part)}, {"value", m.value},
          {"u", m.u},           {"unit", text(m.unit)}, {"n", m.n}};
}

json verdict_json(const checks::Verdict& v) {
  json j = measure_json(v.measure);
  const auto bound = [](const std::optional<double>& d) { return d ? json(*d) : json(); };
  j["outcome"] = v.limit ? text(name(v.outcome)) : json();
  j["lower"] = v.limit ? bound(v.limit->lower) : json();
  j["upper"] = v.limit ? bound(v.limit->upper) : json();
  j["origin"] = v.limit ? text(name(v.limit->origin)) : json();
  j["guard_band"] = v.guard_band;
  j["false_accept_risk"] = v.false_accept_risk;
  return j;
}

json finding_json(const checks::Finding& f) {
  json evidence = json::array();
  for (const auto& m : f.evidence) evidence.push_back(measure_json(m));
  return {{"id", text(f.id)},
          {"says", text(f.says)},
          {"open_again", text(f.open_again)},
          {"part", text(f.part)},
          {"evidence", std::move(evidence)}};
}

json plot_json(const checks::Plot& p) {
  json series = json::array();
  for (const auto& s : p.series) {
    json values = json::array();
    for (const double v : s.values) values.push_back(rounded(v));
    series.push_back({{"name", text(s.name)}, {"unit", text(s.unit)}, {"values", std::move(values)}});
  }
  return {{"kind", text(p.kind)},
          {"part", text(p.part)},
          {"cols", p.cols},
          {"rows", p.rows},
          {"series", std::move(series)}};
}

/// A picture with a hole in its numbers is left out: it must not cost the record its signature.
bool drawable(const checks::Plot& p) {
  return std::all_of(p.series.begin(), p.series.end(), [](const checks::Series& s) {
    return std::all_of(s.values.begin(), s.values.end(), [](double v) { return std::isfinite(v); });
  });
}

json check_json(const checks::CheckResult& c, const std::map<std::string, Taken>& taken) {
  json verdicts = json::array(), findings = json::array(), plots = json::array();
  for (const auto& v : c.verdicts) verdicts.push_back(verdict_json(v));
  for (const auto& f : c.findings) findings.push_back(finding_json(f));
  for (const auto& p : c.plots)
    if (drawable(p)) plots.push_back(plot_json(p));
  json out = {{"id", c.id},
              {"title", c.title},
              {"customer_title", c.customer_title},
              {"outcome", text(name(c.outcome))},
              {"reason", c.reason},
              {"tries", c.tries},
              {"bench_seconds", c.bench_seconds},
              {"verdicts", std::move(verdicts)},
              {"findings", std::move(findings)},
              {"plots", std::move(plots)}};
  if (const auto it = taken.find(c.id); it != taken.end())
    out["taken"] = {{"run", it->second.run_id}, {"at", it->second.at_utc}};
  return out;
}

/// Those of this run and those of earlier ones, each in its place.
json checks_json(const Record& r) {
  json out = json::array();
  auto own = r.checks.begin();
  for (std::size_t i = 0; i < r.checks.size() + r.carried.size(); ++i) {
    const auto earlier = r.carried.find(i);
    if (earlier != r.carried.end())
      out.push_back(earlier->second);
    else if (own != r.checks.end())
      out.push_back(check_json(*own++, r.taken));
  }
  return out;
}
}  // namespace

Term name(RunKind k) noexcept {
  switch (k) {
    case RunKind::intake:
      return "intake";
    case RunKind::release:
      return "release";
    case RunKind::comeback:
      return "comeback";
  }
  return "release";
}

json to_json(const Job& job) {
  json parts = json::array();
  for (const auto& p : job.parts_fitted) parts.push_back({{"name", text(p.name)}, {"lot", text(p.lot)}});
  json j = {{"id", job.id},
            {"opened", job.opened_utc},
            {"fault", text(job.fault)},
            {"parts", std::move(parts)},
            {"colour", text(job.colour_agreed)},
            {"consent", job.consent_tests},
            {"comeback_of", job.comeback_of},
            {"repair", text(job.repair_kind)}};
  if (job.cure_hours) j["cure_hours"] = *job.cure_hours;
  if (!job.waivers.empty()) {
    j["waivers"] = json::array();
    for (const auto& w : job.waivers)
      j["waivers"].push_back({{"check", w.check}, {"reason", text(w.reason)}});
  }
  return j;
}

checks::Outcome overall(const std::vector<std::pair<std::string, checks::Outcome>>& by_check) noexcept {
  std::vector<checks::Outcome> outcomes;
  for (const auto& [id, o] : by_check)
    outcomes.push_back(o == checks::Outcome::waived && is_core_check(id) ? checks::Outcome::not_tested : o);
  return checks::combine(outcomes);
}

json to_json(const Record& r) {
  json run = {{"id", r.run_id},
              {"kind", text(name(r.kind))},
              {"started", r.started_utc},
              {"finished", r.finished_utc},
              {"clock", text(r.clock)},
              {"link", text(r.link)},
              {"bench_seconds", r.bench_seconds},
              {"software", r.software}};
  if (r.follows) {
    json opened = json::array();
    for (const auto& o : r.follows->opened) opened.push_back(text(o));
    run["follows"] = {{"run", r.follows->run_id}, {"opened", std::move(opened)}};
  }
  if (!r.other_phone.empty()) run["other_phone"] = text(r.other_phone);
  if (r.clock_back_s > 0) run["clock_back_s"] = r.clock_back_s;
  return {{"schema", "handback-record-1"},
          {"run", std::move(run)},
          {"job", to_json(r.job)},
          {"bench",
           {{"shop", text(r.bench.shop)},
            {"name", text(r.bench.name)},
            {"contact", text(r.bench.contact)},
            {"key_id", r.bench.key_id}}},
          {"phone",
           {{"tag", r.phone_tag},
            {"tail", r.phone_tail},
            {"model", text(r.model)},
            {"profile_sha256", r.profile_sha256}}},
          {"outcome", text(name(r.outcome))},
          {"checks", checks_json(r)}};
}
}  // namespace hb::record
