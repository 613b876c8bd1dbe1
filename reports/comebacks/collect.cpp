#include <algorithm>
#include <set>

#include "reports/comebacks/comebacks.hpp"
#include "reports/record/utc.hpp"

namespace hb::comebacks {
namespace {
using nlohmann::json;
constexpr double kSecondsPerDay = 86400;

struct Release {
  std::int64_t finished_s = 0;
  Subject subject;
};
struct Seen {
  std::vector<std::string> order;                                    ///< job ids, as opened
  std::map<std::string, json> jobs;                                  ///< id -> job
  std::map<std::string, Release> last_release;                       ///< job id -> its last release run
  std::map<std::string, std::vector<std::string>> first_run_failed;  ///< job id -> failed checks of first run
};

std::string worst_measure(const json& checks) {
  std::string worst;
  double risk = -1;
  for (const auto& c : checks)
    for (const auto& v : c["verdicts"]) {
      if (v["outcome"].is_null()) continue;
      const double r = v["false_accept_risk"].get<double>();
      if (r > risk) risk = r, worst = v["key"].get<std::string>();
    }
  return worst;
}

std::vector<std::string> checks_that(const json& checks, bool (*is)(std::string_view)) {
  std::vector<std::string> out;
  for (const auto& c : checks)
    if (is(c["outcome"].get<std::string>())) out.push_back(c["id"].get<std::string>());
  return out;
}

Release read_release(const json& r, std::int64_t finished_s) {
  Release out;
  out.finished_s = finished_s;
  auto& s = out.subject;
  s.job_id = r["job"]["id"];
  s.run_id = r["run"]["id"];
  s.model = r["phone"]["model"];
  s.repair = r["job"].value("repair", std::string());
  for (const auto& p : r["job"].value("parts", json::array()))
    s.parts.emplace_back(p["name"].get<std::string>(), p["lot"].get<std::string>());
  s.worst_measure = worst_measure(r["checks"]);
  s.not_clean = checks_that(r["checks"], [](std::string_view o) { return o != "pass" && o != "waived"; });
  return out;
}

Result<void> take_run(Seen& seen, const json& record, std::int64_t as_of_s) {
  if (auto valid = record::validate(record); !valid) return valid;
  const auto finished = record::utc_seconds(record["run"]["finished"].get<std::string>());
  if (!finished) return finished.error();
  if (*finished > as_of_s) return {};
  const auto job_id = record["job"]["id"].get<std::string>();
  seen.first_run_failed.try_emplace(
      job_id, checks_that(record["checks"], [](std::string_view o) { return o == "fail"; }));
  if (record["run"]["kind"] != "release") return {};
  auto& last = seen.last_release[job_id];
  if (last.subject.job_id.empty() || *finished >= last.finished_s) last = read_release(record, *finished);
  return {};
}

Result<Seen> read(const ledger::Ledger& ledger, std::int64_t as_of_s) {
  Seen seen;
  std::set<std::string> gone;  // withdrawn; a withdrawal comes after what it is of
  const auto collect_gone = [&](const ledger::Entry& e) -> Result<void> {
    if (e.kind == "withdrawal") gone.insert(e.content["withdrawal"].value("id", std::string()));
    return {};
  };
  if (auto r = ledger.each(collect_gone, "withdrawal"); !r) return std::move(r).error();
  const auto take = [&](const ledger::Entry& e) -> Result<void> {
    if (e.kind != "run" && e.kind != "job") return {};
    const auto id = e.content[e.kind].value("id", std::string());
    const auto job_id = e.content["job"].value("id", std::string());
    if (gone.contains(id) || gone.contains(job_id)) return {};
    if (e.kind == "run") return take_run(seen, e.content, as_of_s);
    const auto job = record::job_from_json(e.content.value("job", json()));
    if (!job) return job.error();
    seen.order.push_back(job->id);
    seen.jobs[job->id] = e.content["job"];
    return {};
  };
  if (auto r = ledger.each(take); !r) return std::move(r).error();
  return seen;
}

/// Earlier job -> (opening time, id) of the first job that came back from it.
std::map<std::string, std::pair<std::int64_t, std::string>> first_comebacks(const Seen& seen,
                                                                            std::int64_t as_of_s) {
  std::map<std::string, std::pair<std::int64_t, std::string>> out;
  for (const auto& id : seen.order) {
    const auto& job = seen.jobs.at(id);
    const auto earlier = job["comeback_of"].get<std::string>();
    const auto opened = record::utc_seconds(job["opened"].get<std::string>());
    if (earlier.empty() || !opened || *opened > as_of_s) continue;
    const auto [it, fresh] = out.try_emplace(earlier, *opened, id);
    if (!fresh && *opened < it->second.first) it->second = {*opened, id};
  }
  return out;
}
}  // namespace

Result<Study> collect(const ledger::Ledger& ledger, std::string_view as_of_utc, const sign::KeyRing& ring) {
  const auto a = ledger.verify(ring);
  if (!a) return a.error();
  if (!a->sound() && a->flaw != ledger::Flaw::derived)  // the entries are read, no row that follows from them
    return Error{a->flaw == ledger::Flaw::unknown_key ? ErrorCode::unknown_key : ErrorCode::altered,
                 "the ledger cannot be relied on: " + a->says, "entry " + std::to_string(a->first_bad),
                 "Restore it from its backup, or give the missing key with --key; --unverified counts it as "
                 "it is, and says so."};
  auto study = collect_unverified(ledger, as_of_utc);
  if (study) study->verified = true;
  return study;
}

Result<Study> collect_unverified(const ledger::Ledger& ledger, std::string_view as_of_utc) {
  const auto as_of = record::utc_seconds(as_of_utc);
  if (!as_of)
    return Error{ErrorCode::bad_format, "the date of the audit is not a time", "as-of",
                 "Write it like 2026-11-25T09:30:00Z."};
  auto seen = read(ledger, *as_of);
  if (!seen) return std::move(seen).error();
  const auto comebacks = first_comebacks(*seen, *as_of);
  Study study;
  study.as_of_utc = std::string(as_of_utc);
  for (const auto& id : seen->order) {
    const auto release = seen->last_release.find(id);
    if (release == seen->last_release.end()) {
      const auto opened = record::utc_seconds(seen->jobs.at(id)["opened"].get<std::string>());
      if (opened && *opened <= *as_of) ++study.without_release;
      continue;
    }
    Subject s = std::move(release->second.subject);
    const auto finished = release->second.finished_s;
    std::int64_t end = *as_of;
    if (const auto c = comebacks.find(id); c != comebacks.end()) {
      end = c->second.first;
      s.days.event = true;
      s.comeback_job = c->second.second;
      if (const auto f = seen->first_run_failed.find(s.comeback_job); f != seen->first_run_failed.end())
        s.failed_at_return = f->second;
    }
    if (end < finished) {
      ++study.odd_dates;
      continue;
    }
    s.days.time = static_cast<double>(end - finished) / kSecondsPerDay;
    study.subjects.push_back(std::move(s));
  }
  return study;
}

Term name(By by) noexcept {
  switch (by) {
    case By::lot:
      return "part lot";
    case By::model:
      return "model";
    case By::repair:
      return "kind of repair";
  }
  return "part lot";
}

namespace {
std::string commonest_part(const Study& study) {
  std::map<std::string, int> count;
  for (const auto& s : study.subjects)
    for (const auto& [part, lot] : s.parts) ++count[part];
  std::string best;
  int most = 0;
  for (const auto& [part, n] : count)
    if (n > most) most = n, best = part;
  return best;
}

std::vector<std::string> group_names(const Subject& s, By by, std::string_view part) {
  const auto or_unsaid = [](const std::string& n) {
    return n.empty() ? std::string("(not written down)") : n;
  };
  if (by == By::model) return {or_unsaid(s.model)};
  if (by == By::repair) return {or_unsaid(s.repair)};
  std::vector<std::string> lots;
  for (const auto& [name, lot] : s.parts)
    if (name == part) lots.push_back(or_unsaid(lot));
  std::sort(lots.begin(), lots.end());
  lots.erase(std::unique(lots.begin(), lots.end()), lots.end());
  return lots;
}
}  // namespace

Comparison compare(const Study& study, By by, std::string_view part) {
  Comparison out;
  out.by = by;
  if (by == By::lot) out.part = part.empty() ? commonest_part(study) : std::string(part);
  std::map<std::string, std::vector<Observation>> data;
  for (const auto& s : study.subjects)
    for (const auto& g : group_names(s, by, out.part)) data[g].push_back(s.days);
  std::vector<std::vector<Observation>> groups;
  int events = 0;
  for (auto& [group, observations] : data) {
    const auto n = static_cast<int>(observations.size());
    const auto x = static_cast<int>(
        std::count_if(observations.begin(), observations.end(), [](const auto& o) { return o.event; }));
    events += x;
    auto curve = kaplan_meier(observations);
    auto middle = median(curve);
    groups.push_back(observations);
    out.groups.push_back({group, wilson(x, n), std::move(curve), middle, std::move(observations)});
  }
  out.test = log_rank(groups);
  out.few = out.test.df == 0 || events < kFewEvents;
  return out;
}

Signs signs(const Study& study) {
  Signs out;
  for (const auto& s : study.subjects) {
    if (!s.days.event) continue;
    ++out.comebacks;
    if (s.not_clean.empty()) ++out.clean_releases;
    if (!s.worst_measure.empty()) ++out.worst_measure[s.worst_measure];
    for (const auto& c : s.not_clean) ++out.not_clean[c];
    for (const auto& c : s.failed_at_return) ++out.failed_at_return[c];
  }
  return out;
}
}  // namespace hb::comebacks
