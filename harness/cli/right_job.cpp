#include "right_job.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <fstream>

#include "harness/base/encoding.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

struct PausedRun {
  std::string run, job, tag, tail;
};

/// Journals of runs that measured something and are not in the ledger.
std::vector<PausedRun> paused_runs(const Home& home, const ledger::Ledger& ledger) {
  std::vector<PausedRun> out;
  std::error_code ec;
  std::vector<fs::path> files;
  for (fs::directory_iterator it(home.runs(), ec), end; !ec && it != end; it.increment(ec))
    if (it->path().extension() == ".jsonl") files.push_back(it->path());
  std::sort(files.begin(), files.end());
  for (const auto& f : files) {
    std::ifstream in(f, std::ios::binary);
    std::string head(4096, '\0');  // a header is far shorter, and more than a header must follow it
    in.read(head.data(), static_cast<std::streamsize>(head.size()));
    head.resize(static_cast<std::size_t>(in.gcount()));
    const auto end = head.find('\n');
    if (end == std::string::npos || end + 1 >= head.size()) continue;
    const auto j = json::parse(head.substr(0, end), nullptr, false);
    if (!j.is_object() || !j.contains("header") || !j["header"].is_object()) continue;
    const auto text = [&](const char* key) {
      const auto it = j["header"].find(key);
      return it != j["header"].end() && it->is_string() ? it->get<std::string>() : std::string();
    };
    PausedRun p{f.stem().string(), text("job"), text("tag"), text("tail")};
    if (p.job.empty() || p.tag.empty() || ledger.find(p.run)) continue;
    out.push_back(std::move(p));
  }
  return out;
}

JobPhone from_record(const json& record, const std::set<std::string>& own) {
  return {record["phone"].value("tag", ""), record["phone"].value("tail", ""),
          fmt::format("run {} of job {}", record["run"].value("id", ""), record["job"].value("id", "")),
          own.contains(record["bench"].value("key_id", ""))};
}
JobPhone from_journal(const PausedRun& p) {
  return {p.tag, p.tail, fmt::format("the paused run {} of job {}", p.run, p.job), true, p.run};
}

bool closes(const json& record) {
  if (record["run"].value("kind", "") != "release") return false;
  const auto outcome = record.value("outcome", "");
  if (outcome == "fail" || outcome == "marginal") return false;
  return std::any_of(record["checks"].begin(), record["checks"].end(), [](const json& c) {
    const auto o = c.value("outcome", "");
    return o == "pass" || o == "waived";
  });
}
}  // namespace

std::string signer_of(std::string_view jws) {
  const auto header = from_base64url(jws.substr(0, jws.find('.')));
  if (!header) return {};
  const auto j = json::parse(as_text(*header), nullptr, false);
  return j.is_object() ? j.value("kid", std::string()) : std::string();
}

std::set<std::string> own_key_ids(const Home& home, const std::string& current) {
  std::set<std::string> out{current};
  std::error_code ec;
  for (fs::directory_iterator it(home.retired(), ec), end; !ec && it != end; it.increment(ec))
    out.insert(it->path().stem().string());
  return out;
}

Result<std::optional<JobPhone>> phone_of(const Home& home, const ledger::Ledger& ledger,
                                         const std::set<std::string>& own, const record::Job& job) {
  const auto paused = paused_runs(home, ledger);
  std::set<std::string> seen;
  for (record::Job at = job; seen.insert(at.id).second;) {
    for (auto p = paused.rbegin(); p != paused.rend(); ++p)
      if (p->job == at.id) return std::optional(from_journal(*p));
    auto runs = ledger.runs(at.id);
    if (!runs) return runs.error();
    if (!runs->empty()) return std::optional(from_record(runs->back().content, own));
    if (at.comeback_of.empty()) break;
    auto earlier = ledger.job(at.comeback_of);
    if (!earlier && earlier.error().code == ErrorCode::refused) break;  // withdrawn
    if (!earlier) return earlier.error();
    at = std::move(*earlier);
  }
  return std::optional<JobPhone>();
}

Result<Openings> look_for_open_jobs(const Home& home, const ledger::Ledger& ledger,
                                    const std::set<std::string>& own) {
  struct Seen {
    record::Job job;
    bool ours = false, closed = false;
    std::optional<JobPhone> phone;
  };
  struct SeenRun {
    std::string id, job;
    JobPhone phone;
    bool closes = false;
  };
  std::vector<std::string> order;
  std::vector<SeenRun> runs;
  std::set<std::string> withdrawn;  ///< runs and jobs: nothing may rest on them
  std::map<std::string, Seen> jobs;
  Openings out;
  const auto saw = [&](Seen& s, JobPhone phone) {
    if (s.ours && phone.tag_is_ours) out.phone_job[phone.tag] = s.job.id;
    s.phone = std::move(phone);
  };
  const auto take = [&](const ledger::Entry& e) -> Result<void> {
    if (e.kind == "job") {
      auto job = record::job_from_json(e.content.value("job", json()));
      if (!job) return job.error();
      order.push_back(job->id);
      jobs[job->id] = Seen{*job, own.contains(signer_of(e.payload)), false, std::nullopt};
    } else if (e.kind == "run") {
      runs.push_back({e.content["run"].value("id", ""), e.content["job"].value("id", ""),
                      from_record(e.content, own), closes(e.content)});
    } else if (e.kind == "withdrawal") {
      withdrawn.insert(e.content["withdrawal"].value("id", ""));
    }
    return {};
  };
  if (auto r = ledger.each(take); !r) return r.error();
  for (auto& r : runs) {
    const auto s = jobs.find(r.job);
    if (s == jobs.end() || withdrawn.contains(r.id)) continue;
    saw(s->second, std::move(r.phone));
    s->second.closed = s->second.closed || r.closes;
  }
  for (const auto& p : paused_runs(home, ledger))
    if (const auto s = jobs.find(p.job); s != jobs.end()) saw(s->second, from_journal(p));
  for (const auto& id : order) {
    auto& s = jobs[id];
    if (!s.ours || s.closed || withdrawn.contains(id)) continue;
    // A job that comes back has the earlier one's phone.
    std::set<std::string> passed;
    for (const Seen* at = &s; !s.phone && !at->job.comeback_of.empty();) {
      const auto earlier = jobs.find(at->job.comeback_of);
      if (earlier == jobs.end() || !passed.insert(earlier->first).second) break;
      s.phone = earlier->second.phone;
      at = &earlier->second;
    }
    out.open.push_back({std::move(s.job), std::move(s.phone)});
  }
  return out;
}

std::string list_of(const std::vector<OpenJob>& jobs) {
  std::string out;
  for (const auto& o : jobs)
    out += fmt::format("\n  {}  opened {}  {}  {}", o.job.id, o.job.opened_utc, o.job.repair_kind.str(),
                       o.phone ? "phone .." + o.phone->tail : std::string("no phone yet"));
  return out;
}

Result<std::optional<ledger::Entry>> last_run(const ledger::Ledger& ledger, const std::string& job,
                                              record::RunKind kind) {
  auto runs = ledger.runs(job);
  if (!runs) return runs.error();
  for (auto e = runs->rbegin(); e != runs->rend(); ++e)
    if (e->content["run"].value("kind", "") == record::name(kind).view()) return std::optional(std::move(*e));
  return std::optional<ledger::Entry>();
}

namespace {
std::string opened_help() {
  return fmt::format("--opened-again PART, with PART one of: {}", words_of(record::opened_parts()));
}

Result<std::vector<Term>> parts_named(const std::vector<std::string>& words) {
  std::vector<Term> out;
  for (const auto& w : words) {
    const auto* word = record::find_word(record::opened_parts(), w);
    if (word == nullptr)
      return Error{ErrorCode::invalid_argument, "this is no part of the list", "--opened-again",
                   "Give " + opened_help() + "."};
    if (std::find(out.begin(), out.end(), word->id) == out.end()) out.push_back(word->id);
  }
  return out;
}

bool disturbs(const profiles::Profile& profile, const std::vector<Term>& opened, const std::string& check) {
  return std::any_of(opened.begin(), opened.end(), [&](const Term& part) {
    const auto narrowed = profile.disturbs.find(part.str());
    return narrowed == profile.disturbs.end() || narrowed->second.contains(check);
  });
}
}  // namespace

Result<Plan> plan_run(const profiles::Profile& profile, const std::optional<ledger::Entry>& earlier,
                      const Wish& wish) {
  Plan plan;
  const auto opened = parts_named(wish.opened);
  if (!opened) return opened.error();
  for (const auto& id : wish.only)
    if (std::find(profile.checks.begin(), profile.checks.end(), id) == profile.checks.end())
      return Error{ErrorCode::invalid_argument, fmt::format("the profile has no check '{}'", id), "--only",
                   "It has: " + fmt::format("{}", fmt::join(profile.checks, ", ")) + "."};
  plan.measure = {profile.checks.begin(), profile.checks.end()};
  if (!earlier) {
    if (wish.only.empty() && opened->empty()) return plan;
    return Error{ErrorCode::invalid_argument, "the job has no finished run of this kind yet",
                 wish.only.empty() ? "--opened-again" : "--only",
                 "Run the whole checklist first, without this option; other kinds: --kind."};
  }
  const auto& record = earlier->content;
  const auto run = record["run"].value("id", "");
  std::map<std::string, json> before;
  for (const auto& c : record["checks"]) before[c.value("id", "")] = c;
  if (!wish.only.empty()) {
    plan.measure = {wish.only.begin(), wish.only.end()};
  } else if (!opened->empty()) {
    std::erase_if(plan.measure, [&](const auto& id) { return !disturbs(profile, *opened, id); });
    if (plan.measure.empty())
      return Error{ErrorCode::invalid_argument, "by the profile, opening this disturbs no check",
                   "--opened-again", "Choose the checks: --only CHECK."};
  }
  for (const auto& id : plan.measure) {
    const auto b = before.find(id);
    if (b == before.end() || b->second.value("outcome", "") != "fail" || disturbs(profile, *opened, id))
      continue;
    return Error{ErrorCode::refused,
                 fmt::format("{} failed in run {}, and a fail is replaced only after a repair", id, run), "",
                 (opened->empty() ? "Say what was opened or changed since: "
                                  : "By the profile, what was named does not touch this check; name more: ") +
                     opened_help() + "."};
  }
  plan.follows = record::Follows{run, *opened};
  if (plan.measure.size() == profile.checks.size()) return plan;
  if (record["phone"].value("profile_sha256", "") != profile.sha256)
    return Error{ErrorCode::refused,
                 fmt::format("run {} was judged by another state of the profile ({:.12}, this one is {:.12})",
                             run, record["phone"].value("profile_sha256", ""), profile.sha256),
                 profile.file, "Run the whole checklist: without --only."};
  for (const auto& id : profile.checks) {
    if (plan.measure.contains(id)) continue;
    const auto b = before.find(id);
    const auto outcome = b == before.end() ? std::string() : b->second.value("outcome", "");
    // A fail stands until it is taken again, and what was agreed stays agreed.
    const bool stands = outcome == "fail" || outcome == "waived";
    if (b == before.end() || (disturbs(profile, *opened, id) && !stands)) {
      plan.set_aside.insert(id);
      continue;
    }
    auto c = b->second;
    if (!c.contains("taken")) c["taken"] = {{"run", run}, {"at", record["run"].value("finished", "")}};
    plan.carried[id] = std::move(c);
  }
  return plan;
}
}  // namespace hb::cli
