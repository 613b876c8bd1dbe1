#include "harness/run/run.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "checks/registry.hpp"
#include "connection.hpp"
#include "harness/run/journal.hpp"
#include "harness/run/lanes.hpp"
#include "judging.hpp"
#include "reports/record/utc.hpp"

namespace hb::run {
namespace {
namespace asio = net::asio;
using checks::CheckResult;
using checks::Outcome;
using nlohmann::json;

using record::utc_text;

/// Members of a journal, whatever somebody wrote into it.
std::string text_at(const json& j, const char* key) {
  const auto it = j.is_object() ? j.find(key) : j.end();
  return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}
std::int64_t integer_at(const json& j, const char* key) {
  const auto it = j.is_object() ? j.find(key) : j.end();
  return it != j.end() && it->is_number_integer() ? it->get<std::int64_t>() : 0;
}

/// A word that is none of them is not tested: never better than it was.
Outcome outcome_named(std::string_view word) {
  for (const Outcome o : {Outcome::pass, Outcome::marginal, Outcome::fail, Outcome::waived})
    if (checks::name(o).view() == word) return o;
  return Outcome::not_tested;
}

/// One check's progress on the view that all share.
class ProgressOf final : public checks::Progress {
 public:
  ProgressOf(View& view, const checks::CheckInfo& info) : view_(view), info_(info) {}
  void step(double fraction, Term doing) override { view_.step(info_, fraction, doing); }
  void cell(int col, int row, int cols, int rows) override { view_.cell(info_, col, row, cols, rows); }

 private:
  View& view_;
  checks::CheckInfo info_;
};

class Run {
 public:
  Run(Setup setup, View& view)
      : s_(std::move(setup)),
        view_(view),
        phone_(s_, view_),
        all_(checks::all_checks()),
        tries_(s_.profile.checks.size()) {}

  net::awaitable<Result<Ended>> go() {
    co_await asio::this_coro::throw_if_cancelled(false);
    if (s_.resume)
      if (auto r = load_journal(); !r) co_return r.error();
    if (auto r = co_await phone_.open(); !r) co_return r.error();
    if (auto r = start_journal(); !r) co_return r.error();
    if (s_.resume) (void)co_await phone_.phone().stop_load();
    auto ended = co_await all_checks();
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    co_await phone_.tidy();
    co_return ended;
  }

 private:
  Result<void> load_journal() {
    auto c = Journal::read(s_.journal);
    if (!c) return c.error();
    const auto same = [&](const char* what, const std::string& was, const std::string& is) -> Result<void> {
      if (was == is) return {};
      return Error{ErrorCode::refused, fmt::format("the run was started with {} {}, not {}", what, was, is),
                   s_.journal.string(), "Resume it with what it was started with, or start a new run."};
    };
    if (auto r = same("profile", text_at(c->header, "profile_sha256"), s_.profile.sha256); !r) return r;
    if (auto r = same("job", text_at(c->header, "job"), s_.job.id); !r) return r;
    if (auto r = same("kind", text_at(c->header, "kind"), record::name(s_.kind).str()); !r) return r;
    started_ = text_at(c->header, "started");
    run_id_ = text_at(c->header, "run_id");
    phone_.expect(text_at(c->header, "tag"), text_at(c->header, "tail"));
    saw_time(record::utc_seconds(started_).value_or(0));
    for (const auto& e : c->entries) {
      connection_ = std::max(connection_, static_cast<int>(integer_at(e, "connection")) + 1);
      saw_time(integer_at(e, "at_s"));
      const auto& ids = s_.profile.checks;
      const auto at = std::find(ids.begin(), ids.end(), text_at(e, "check"));
      if (at == ids.end()) continue;
      if (auto r = count(static_cast<std::size_t>(at - ids.begin()), e); !r) return r;
    }
    return {};
  }

  Result<void> start_journal() {
    if (s_.resume) {
      auto j = Journal::reopen(s_.journal);
      if (!j) return j.error();
      journal_.emplace(std::move(*j));
      return {};
    }
    started_ = utc_text(now_s());
    run_id_ = s_.journal.stem().string();
    json header = {{"run_id", run_id_},
                   {"kind", record::name(s_.kind).view()},
                   {"job", s_.job.id},
                   {"started", started_},
                   {"tag", phone_.who().tag},
                   {"tail", phone_.who().tail},
                   {"model", s_.profile.name.str()},
                   {"profile_sha256", s_.profile.sha256},
                   {"clock", s_.clock->kind().view()}};
    header.update(s_.remember);
    auto j = Journal::create(s_.journal, header);
    if (!j) return j.error();
    journal_.emplace(std::move(*j));
    return {};
  }

  /// The computer's clock may be set while a run is under way; then the record must not be believed about its
  /// times, and says so.
  void saw_time(std::int64_t s) {
    if (s <= 0) return;
    clock_back_s_ = std::max(clock_back_s_, latest_s_ - s);
    latest_s_ = std::max(latest_s_, s);
  }
  std::int64_t now_s() {
    const auto s = net::utc_now_s();
    saw_time(s);
    return s;
  }

  /// Results that this run does not take: carried from an earlier one, or set aside.
  [[nodiscard]] bool not_ours(const std::string& id) const {
    return s_.carried.contains(id) || s_.set_aside.contains(id);
  }

  /// One check under way. Owned by the run, which its coroutine must not outlive.
  struct UnderWay {
    std::size_t index = 0;
    const checks::AnyCheck* check = nullptr;
    checks::CheckInfo info;
    std::unique_ptr<net::Clock> clock;
    std::unique_ptr<checks::Progress> progress;
    asio::cancellation_signal stop;
    std::optional<Result<json>> capture;
    double from_s = 0, to_s = 0;
    std::exception_ptr broke;
  };

  net::awaitable<Result<Ended>> all_checks() {
    const auto executor = co_await asio::this_coro::executor;
    lanes_.emplace(executor, s_.clock);
    ended_.emplace(executor, s_.profile.checks.size() + 1);
    take_from_journal();
    std::unique_ptr<UnderWay> last;  // its lane closes when its successor's is open
    for (;;) {
      if (auto r = start_what_fits(executor); !r && !fatal_) fatal_ = r.error();
      last.reset();
      if (under_way_.empty()) {
        if (broke_) std::rethrow_exception(broke_);
        if (fatal_) co_return *fatal_;
        if (why_paused_) co_return Ended{std::nullopt, why_paused_, {}};
        if (!lost_) break;
        if (auto back = co_await phone_.wait_for_phone(); !back)
          co_return Ended{std::nullopt, back.error(), {}};
        lost_ = false;
        ++connection_;
        continue;
      }
      last = co_await next_ended();
      if (auto r = co_await settle(*last); !r && !fatal_) fatal_ = r.error();
      if (fatal_) stop_the_others();
    }
    const auto times = bench_times(infos(), spans_);
    co_return Ended{make_record(times), std::nullopt, times};
  }

  /// Checks that an earlier session finished; the others wait.
  void take_from_journal() {
    for (std::size_t i = 0; i < tries_.size(); ++i)
      if (not_ours(s_.profile.checks[i]))
        continue;
      else if (tries_[i].count() == 0 || s_.retest.contains(s_.profile.checks[i]))
        waiting_.push_back(i);
      else
        view_.check_ends(tries_[i].result(), true);
  }

  /// In the order of the checklist, every check that shares no resource with one under way.
  Result<void> start_what_fits(const asio::any_io_executor& executor) {
    if (broke_ || fatal_ || why_paused_ || lost_ || (stop_reason_ && !under_way_.empty())) return {};
    for (auto at = waiting_.begin(); at != waiting_.end();) {
      const auto* check = find(all_, s_.profile.checks[*at]);
      const auto info = check->info();
      const bool free = std::none_of(under_way_.begin(), under_way_.end(), [&](const auto& u) {
        return !s_.overlap || exclude_each_other(u->info, info);
      });
      const auto waived = s_.waived.find(info.id.str());
      if (waived != s_.waived.end() || stop_reason_) {
        json entry = entry_for(*at);
        entry["not_tested"] = waived != s_.waived.end() ? waived->second.str() : *stop_reason_;
        if (waived != s_.waived.end()) entry["waived"] = true;
        view_.check_starts(info, *at + 1, s_.profile.checks.size());
        if (auto r = keep(*at, entry); !r) return r;
        at = waiting_.erase(at);
      } else if (free) {
        start(executor, *at, *check, info);
        at = waiting_.erase(at);
      } else {
        ++at;
      }
    }
    return {};
  }

  void start(const asio::any_io_executor& executor, std::size_t index, const checks::AnyCheck& check,
             const checks::CheckInfo& info) {
    auto& u = *under_way_.emplace_back(std::make_unique<UnderWay>());
    u.index = index;
    u.check = &check;
    u.info = info;
    u.clock = lanes_->open();
    u.progress = std::make_unique<ProgressOf>(view_, info);
    view_.check_starts(info, index + 1, s_.profile.checks.size());
    asio::co_spawn(executor, acquire(u),
                   asio::bind_cancellation_slot(u.stop.slot(), [this, &u](std::exception_ptr e) {
                     u.broke = std::move(e);
                     ended_->try_send(net::error_code{}, u.index);
                   }));
  }

  net::awaitable<void> acquire(UnderWay& u) {
    co_await asio::this_coro::throw_if_cancelled(false);
    if (auto turn = co_await u.clock->wait(net::milliseconds(0)); !turn) {
      u.capture.emplace(turn.error());
      co_return;
    }
    u.from_s = co_await phone_.bench_now();
    checks::Context context{phone_.phone(), phone_.page(), *u.clock, *s_.op, *u.progress};
    u.capture.emplace(co_await u.check->acquire(context, s_.profile.sections));
    if (*u.capture) u.to_s = co_await phone_.bench_now();
  }

  void stop_the_others() {
    for (auto& u : under_way_) u->stop.emit(asio::cancellation_type::terminal);
  }

  /// The technician's cancel stops all that is under way; what has ended by then is kept.
  net::awaitable<std::unique_ptr<UnderWay>> next_ended() {
    for (;;) {
      const auto [ec, index] = co_await ended_->async_receive(net::tuple);
      if (ec) {
        co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
        why_paused_ = Error{ErrorCode::cancelled, "stopped while waiting", "", ""};
        stop_the_others();
        continue;
      }
      const auto at = std::find_if(under_way_.begin(), under_way_.end(),
                                   [i = index](const auto& u) { return u->index == i; });
      auto u = std::move(*at);
      under_way_.erase(at);
      co_return u;
    }
  }

  /// Journals and judges what a check gave; or puts it back, to run again when the phone is back.
  net::awaitable<Result<void>> settle(UnderWay& u) {
    if (u.broke) {  // the others hold this run: they end before it does
      broke_ = u.broke;
      stop_the_others();
      co_return Result<void>{};
    }
    json entry = entry_for(u.index);
    if (*u.capture) {
      entry["capture"] = std::move(**u.capture);
      entry["bench_seconds"] = std::max(0.0, u.to_s - u.from_s);
      entry["from_s"] = u.from_s;
      entry["connection"] = connection_;
      co_return keep(u.index, entry);
    }
    const Error e = u.capture->error();
    if (e.code == ErrorCode::safety) {
      view_.safety_stop(e.what, e.next);
      entry["safety"] = reason_of(e);
      stop_reason_ = "the run was stopped for safety";
      stop_the_others();
      if (phone_.alive()) (void)co_await phone_.phone().stop_load();
      co_return keep(u.index, entry);
    }
    if (e.code != ErrorCode::cancelled && !lost_ && phone_.alive()) co_await phone_.hang_up_if_silent();
    if (e.code != ErrorCode::cancelled && phone_.alive()) {
      entry["not_tested"] = reason_of(e);
      co_return keep(u.index, entry);
    }
    if (e.code == ErrorCode::cancelled && !lost_ && !stop_reason_ && !fatal_ && !why_paused_)
      why_paused_ = e;  // somebody cancelled the check, not the run
    lost_ = lost_ || !phone_.alive();
    if (lost_ || why_paused_) stop_the_others();
    waiting_.insert(std::lower_bound(waiting_.begin(), waiting_.end(), u.index), u.index);
    co_return Result<void>{};
  }

  [[nodiscard]] json entry_for(std::size_t index) {
    json entry = json::object();
    entry["at_s"] = now_s();
    entry["check"] = s_.profile.checks[index];
    entry["try"] = tries_[index].count() + 1;
    return entry;
  }

  Result<void> keep(std::size_t index, const json& entry) {
    if (auto w = journal_->append(entry); !w) return w.error();
    if (auto r = count(index, entry); !r) return r;
    view_.check_ends(tries_[index].result(), false);
    return {};
  }

  Result<void> count(std::size_t index, const json& entry) {
    if (auto r = tries_[index].add(*find(all_, s_.profile.checks[index]), entry, s_.profile); !r) return r;
    const double from = entry.value("from_s", 0.0);
    if (entry.contains("capture"))
      spans_.push_back({index, from, from + entry.value("bench_seconds", 0.0), entry.value("connection", 0)});
    return {};
  }

  [[nodiscard]] std::vector<checks::CheckInfo> infos() const {
    std::vector<checks::CheckInfo> out;
    for (const auto& id : s_.profile.checks) out.push_back(find(all_, id)->info());
    return out;
  }

  record::Record make_record(const BenchTimes& times) {
    record::Record r;
    r.run_id = run_id_;
    r.kind = s_.kind;
    r.job = s_.job;
    r.bench = s_.bench;
    r.started_utc = started_;
    r.finished_utc = utc_text(now_s());
    r.clock_back_s = static_cast<double>(clock_back_s_);
    r.follows = s_.follows;
    r.other_phone = s_.other_phone;
    r.clock = s_.clock->kind();
    r.link = phone_.kind();
    r.phone_tag = phone_.who().tag;
    r.phone_tail = phone_.who().tail;
    r.model = s_.profile.name;
    r.profile_sha256 = s_.profile.sha256;
    r.software = s_.software;
    std::vector<std::pair<std::string, Outcome>> outcomes;
    for (std::size_t i = 0; i < tries_.size(); ++i) {
      const auto& id = s_.profile.checks[i];
      if (const auto earlier = s_.carried.find(id); earlier != s_.carried.end()) {
        r.carried[i] = earlier->second;
        outcomes.emplace_back(id, outcome_named(earlier->second.value("outcome", "")));
        continue;
      }
      const auto at = tries_[i].taken_s();
      if (!s_.set_aside.contains(id)) r.taken[id] = {run_id_, at > 0 ? utc_text(at) : started_};
      r.checks.push_back(s_.set_aside.contains(id) ? stale(find(all_, id)->info())
                                                   : std::move(tries_[i]).result());
      outcomes.emplace_back(id, r.checks.back().outcome);
    }
    r.bench_seconds = times.taken_s;
    r.outcome = record::overall(outcomes);
    return r;
  }

  using EndedChannel = asio::experimental::channel<void(net::error_code, std::size_t)>;

  Setup s_;
  View& view_;
  Connection phone_;
  std::vector<std::unique_ptr<checks::AnyCheck>> all_;
  std::optional<Journal> journal_;
  std::vector<Tries> tries_;  ///< of each check of the checklist
  std::vector<Span> spans_;
  std::string started_, run_id_;
  std::int64_t latest_s_ = 0, clock_back_s_ = 0;

  std::optional<Lanes> lanes_;
  std::optional<EndedChannel> ended_;  ///< indices of checks whose coroutines are over
  std::vector<std::size_t> waiting_;   ///< indices into the checklist, in order
  std::vector<std::unique_ptr<UnderWay>> under_way_;
  int connection_ = 0;
  bool lost_ = false;                       ///< the phone is gone; nothing starts until it is back
  std::optional<std::string> stop_reason_;  ///< after a safety stop
  std::optional<Error> why_paused_, fatal_;
  std::exception_ptr broke_;
};
}  // namespace

net::awaitable<Result<Ended>> run_checklist(Setup setup, View& view) {
  auto run = std::make_unique<Run>(std::move(setup), view);
  co_return co_await run->go();
}

Result<std::vector<CheckResult>> replay(const std::filesystem::path& file, const profiles::Profile& profile) {
  auto c = Journal::read(file);
  if (!c) return c.error();
  if (text_at(c->header, "profile_sha256") != profile.sha256)
    return Error{ErrorCode::bad_format, "the journal was made with another profile", file.string(),
                 "Replay it with that profile."};
  const auto all = checks::all_checks();
  std::vector<CheckResult> out;
  for (const auto& id : profile.checks) {
    Tries tries;
    for (const auto& e : c->entries)
      if (e.value("check", "") == id)
        if (auto r = tries.add(*find(all, id), e, profile); !r) return r.error();
    if (tries.count() > 0) out.push_back(std::move(tries).result());
  }
  return out;
}
}  // namespace hb::run
