#include "tools/demo_history/demo_history.hpp"

#include <queue>

#include "reports/record/utc.hpp"
#include "story.hpp"

namespace hb::demo {
namespace {
constexpr std::int64_t kDay = 86400;
constexpr int kSpanDays = 420;

enum class What { open, return_run, release };
struct Event {
  std::int64_t at_s = 0;
  std::size_t order = 0;  ///< ties keep their order
  What what = What::open;
  std::size_t story = 0;
  friend bool operator>(const Event& a, const Event& b) {
    return a.at_s != b.at_s ? a.at_s > b.at_s : a.order > b.order;
  }
};

class Teller {
 public:
  Teller(ledger::Ledger& ledger, std::uint64_t seed, std::int64_t end_s)
      : ledger_(ledger), draw_(seed), end_s_(end_s) {}

  Result<void> tell(int jobs) {
    for (int i = 0; i < jobs; ++i) {
      const double day = kSpanDays * (i + draw_.uniform()) / jobs;
      const auto opened = end_s_ - kSpanDays * kDay + static_cast<std::int64_t>(day * kDay);
      add(make_story(draw_, opened));
    }
    while (!queue_.empty()) {
      const Event e = queue_.top();
      queue_.pop();
      if (e.at_s > end_s_) break;
      if (auto r = happen(e); !r) return r;
    }
    return {};
  }

 private:
  void push(std::int64_t at_s, What what, std::size_t story) { queue_.push({at_s, count_++, what, story}); }

  void add(Story s) {
    const auto index = stories_.size();
    push(s.opened_s, What::open, index);
    if (!s.job.comeback_of.empty()) push(s.opened_s + kDay / 24, What::return_run, index);
    push(s.released_s, What::release, index);
    stories_.push_back(std::move(s));
  }

  Result<void> happen(const Event& e) {
    if (e.what == What::open) {
      auto& job = stories_[e.story].job;
      job.opened_utc = record::utc_text(e.at_s);
      auto opened = ledger_.open_job(job);
      if (!opened) return std::move(opened).error();
      job = std::move(*opened);
      return {};
    }
    if (auto r = run(stories_[e.story], e); !r) return r;
    if (e.what == What::release) come_back(e);
    return {};
  }

  Result<void> run(const Story& s, const Event& e) {
    const bool on_return = e.what == What::return_run;
    record::Record r;
    r.run_id = "01";
    while (r.run_id.size() < 26) r.run_id += draw_.letter();
    r.kind = on_return ? record::RunKind::comeback : record::RunKind::release;
    r.job = s.job;
    r.bench = {Term("Demo shop"), Term("bench 1"), Term("ask at the counter"), ledger_.key_id()};
    r.started_utc = record::utc_text(e.at_s - 900);
    r.finished_utc = record::utc_text(e.at_s);
    r.clock = "made up";
    r.link = "tcp";
    r.phone_tag = s.tag;
    r.phone_tail = s.tail;
    r.model = s.model;
    r.profile_sha256 = std::string(64, '0');
    r.software = "handback demo history";
    r.checks = make_checks(draw_, s, on_return);
    r.bench_seconds = 900;
    std::vector<checks::Outcome> outcomes;
    for (const auto& c : r.checks) outcomes.push_back(c.outcome);
    r.outcome = checks::combine(outcomes);
    auto jws = ledger_.sign_record(record::to_json(r));
    if (!jws) return std::move(jws).error();
    auto receipt = ledger_.append_run(*jws);
    if (!receipt) return std::move(receipt).error();
    return {};
  }

  /// The same phone again, with the same trouble and a part of a fresh lot.
  void come_back(const Event& e) {
    const Story& before = stories_[e.story];
    const auto back_s = e.at_s + static_cast<std::int64_t>(before.life_days * kDay);
    if (back_s > end_s_) return;
    Story again = make_story(draw_, back_s);
    again.model = before.model;
    again.folds = before.folds;
    again.tag = before.tag;
    again.tail = before.tail;
    again.trouble = before.trouble;
    again.job.repair_kind = before.job.repair_kind;
    again.job.fault = Term("came back with the same fault");
    for (std::size_t i = 0; i < again.job.parts_fitted.size() && i < before.job.parts_fitted.size(); ++i) {
      again.job.parts_fitted[i].name = before.job.parts_fitted[i].name;
      again.job.parts_fitted[i].lot = Term("replacement");
    }
    again.job.comeback_of = before.job.id;
    again.life_days = std::max(again.life_days, 200.0);
    add(std::move(again));
  }

  ledger::Ledger& ledger_;
  Draw draw_;
  std::int64_t end_s_;
  std::vector<Story> stories_;
  std::priority_queue<Event, std::vector<Event>, std::greater<>> queue_;
  std::size_t count_ = 0;
};
}  // namespace

Result<void> seed_demo_history(ledger::Ledger& ledger, int jobs, std::uint64_t seed,
                               std::string_view end_utc) {
  const auto end_s = record::utc_seconds(end_utc);
  if (!end_s || jobs < 0)
    return Error{ErrorCode::invalid_argument, "a made-up past needs a number of jobs and the time it ends at",
                 "demo history", "Write the time like 2026-11-01T00:00:00Z."};
  return ledger.together([&] { return Teller(ledger, seed, *end_s).tell(jobs); });
}
}  // namespace hb::demo
