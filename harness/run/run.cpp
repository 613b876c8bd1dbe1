#include "harness/run/run.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>

#include "checks/registry.hpp"
#include "harness/page/page.hpp"
#include "harness/phone/phone.hpp"
#include "harness/run/journal.hpp"

namespace hb::run {
namespace {
namespace asio = net::asio;
using checks::CheckResult;
using checks::Outcome;
using nlohmann::json;

std::string utc_text(std::int64_t s) {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(static_cast<std::time_t>(s)));
}

/// Words that a link's or a check's error may put into a record: they passed the gate or are replaced.
std::string reason_of(const Error& e) {
  const auto t = ShopText::screened(e.what, "reason");
  return t ? t->str() : std::string(name(e.code));
}

CheckResult not_tested(const checks::CheckInfo& info, std::string reason) {
  CheckResult r;
  r.id = info.id.str();
  r.title = info.title.str();
  r.customer_title = info.customer_title.str();
  r.reason = std::move(reason);
  return r;
}

CheckResult stopped_for_safety(const checks::CheckInfo& info, std::string reason) {
  auto r = not_tested(info, std::move(reason));
  r.outcome = Outcome::fail;
  checks::Finding f;
  f.id = "safety_stop";
  f.says = "The check was stopped because a battery reading left its safe range.";
  f.open_again =
      "Disconnect the charger, let the phone cool on a surface that does not burn, and look for a swollen or "
      "damaged cell before "
      "anything else. Follow local rules for damaged lithium cells.";
  r.findings.push_back(std::move(f));
  return r;
}

const checks::AnyCheck* find(const std::vector<std::unique_ptr<checks::AnyCheck>>& all, std::string_view id) {
  for (const auto& c : all)
    if (c->info().id.view() == id) return c.get();
  return nullptr;
}

Result<CheckResult> judge(const checks::AnyCheck& check, const json& entry,
                          const profiles::Profile& profile) {
  Result<CheckResult> r = not_tested(check.info(), "");
  if (entry.contains("capture")) {
    r = check.judge(entry["capture"], profile.sections, profile.limits);
  } else if (entry.contains("safety")) {
    r = stopped_for_safety(check.info(), entry.value("safety", ""));
  } else {
    r->reason = entry.value("not_tested", "");
    if (entry.value("waived", false)) r->outcome = Outcome::waived;
  }
  if (r) {
    r->tries = entry.value("try", 1);
    r->bench_seconds = entry.value("bench_seconds", 0.0);
  }
  return r;
}

/// A later try never hides a worse earlier one: the outcome is the worst of all tries that were judged.
Result<CheckResult> judge_tries(const checks::AnyCheck& check, const std::vector<json>& tries,
                                const profiles::Profile& profile) {
  std::optional<CheckResult> worst;
  double seconds = 0;
  for (const auto& t : tries) {
    auto r = judge(check, t, profile);
    if (!r) return r;
    seconds += r->bench_seconds;
    const Outcome both[] = {r->outcome, worst ? worst->outcome : r->outcome};
    const bool untested_before =
        worst && worst->outcome == Outcome::not_tested && r->outcome != Outcome::not_tested;
    const bool marginal_before =
        worst && worst->outcome == Outcome::marginal && r->outcome != Outcome::not_tested;
    if (!worst || untested_before || marginal_before || checks::combine(both) == r->outcome)
      worst = std::move(*r);
  }
  worst->tries = static_cast<int>(tries.size());
  worst->bench_seconds = seconds;
  return std::move(*worst);
}

/// Everything that lives as long as one connection.
struct Session {
  std::shared_ptr<link::Link> link;
  std::unique_ptr<phone::Phone> phone;
  std::unique_ptr<checks::PagePort> page;
  phone::Identity who;
};

class Run {
 public:
  Run(Setup setup, View& view) : s_(std::move(setup)), view_(view), all_(checks::all_checks()) {}

  net::awaitable<Result<Ended>> go() {
    co_await asio::this_coro::throw_if_cancelled(false);
    if (s_.resume)
      if (auto r = load_journal(); !r) co_return r.error();
    if (auto r = co_await open_session(); !r) co_return r.error();
    if (auto r = start_journal(); !r) co_return r.error();
    if (s_.resume) (void)co_await session_.phone->stop_load();
    auto ended = co_await all_checks();
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    co_await tidy();
    co_return ended;
  }

 private:
  Result<void> load_journal() {
    auto c = Journal::read(s_.journal);
    if (!c) return c.error();
    if (c->header.value("profile_sha256", "") != s_.profile.sha256)
      return Error{ErrorCode::bad_format, "the run was started with another profile", s_.journal.string(),
                   "Resume it with the same profile file, or start a new run."};
    started_ = c->header.value("started", "");
    run_id_ = c->header.value("run_id", "");
    tag_ = c->header.value("tag", "");
    for (auto& e : c->entries) tries_[e.value("check", "")].push_back(std::move(e));
    return {};
  }

  Result<void> start_journal() {
    if (s_.resume) {
      auto j = Journal::reopen(s_.journal);
      if (!j) return j.error();
      journal_.emplace(std::move(*j));
      return {};
    }
    started_ = utc_text(net::utc_now_s());
    run_id_ = s_.journal.stem().string();
    json header = {{"run_id", run_id_},
                   {"kind", record::name(s_.kind).view()},
                   {"job", s_.job.id},
                   {"started", started_},
                   {"tag", tag_},
                   {"tail", session_.who.tail},
                   {"model", s_.profile.name.str()},
                   {"profile_sha256", s_.profile.sha256},
                   {"clock", s_.clock->kind().view()}};
    auto j = Journal::create(s_.journal, header);
    if (!j) return j.error();
    journal_.emplace(std::move(*j));
    return {};
  }

  /// Dials, authorises, and sees that this is the phone and the model that it should be.
  net::awaitable<Result<void>> open_session() {
    view_.connecting();
    auto transport = co_await s_.connect();
    if (!transport) co_return transport.error();
    link_kind_ = (*transport)->kind() == "usb" ? Term("usb") : Term("tcp");
    link::LinkOptions options;
    options.on_waiting_for_owner = [this] { view_.owner_must_allow(); };
    auto opened = co_await link::Link::open(std::move(*transport), s_.key, options);
    if (!opened) co_return opened.error();
    Session n;
    n.link = std::move(*opened);
    n.phone = phone::Phone::on(n.link);
    auto fits = co_await n.phone->is_model(s_.profile.device, s_.profile.model);
    if (!fits) co_return fits.error();
    if (!*fits)
      co_return Error{ErrorCode::unsupported,
                      fmt::format("the phone is not the profile's model, {}", s_.profile.name.str()),
                      s_.profile.file,
                      "Choose the right profile (handback profile list), or make one for this model: "
                      "handback profile new FILE."};
    auto who = co_await n.phone->identity(s_.shop_key);
    if (!who) co_return who.error();
    if (!tag_.empty() && tag_ != who->tag) {
      n.link->close();
      co_return Error{ErrorCode::refused, "another phone is connected, not the one this run began with", "",
                      "Connect the right phone."};
    }
    tag_ = who->tag;
    n.who = *who;
    session_ = std::move(n);
    page::PageOptions page_options;
    page_options.room = s_.room;
    if (s_.use_page) session_.page = page::make_page(*session_.phone, page_options);
    view_.connected(session_.who.tail, link_kind_);
    co_return Result<void>{};
  }

  /// Waits until the same phone answers again. Wall time: the phone is in somebody's hands.
  net::awaitable<Result<void>> wait_for_phone() {
    view_.paused(
        "The phone is gone: the cable was pulled or the link dropped. What was measured is kept. Waiting for "
        "this phone.",
        s_.wait_for_phone);
    session_.page.reset();
    if (session_.link) session_.link->close();
    const auto give_up = std::chrono::steady_clock::now() + s_.wait_for_phone;
    Error last{ErrorCode::link_lost, "the phone did not come back", "", ""};
    while (std::chrono::steady_clock::now() < give_up) {
      if (auto p = co_await net::pause(net::milliseconds(300)); !p) co_return p.error();
      auto r = co_await open_session();
      if (r) {
        // What the interrupted check left running would spoil its repetition.
        (void)co_await session_.phone->stop_load();
        (void)co_await s_.hands->enough();
        view_.back();
        co_return Result<void>{};
      }
      last = r.error();
      if (last.code == ErrorCode::cancelled || last.code == ErrorCode::unauthorised) break;
    }
    co_return last;
  }

  net::awaitable<Result<Ended>> all_checks() {
    const auto& ids = s_.profile.checks;
    std::optional<std::string> stop_reason;
    for (std::size_t i = 0; i < ids.size(); ++i) {
      const auto* check = find(all_, ids[i]);
      const auto done = tries_.find(ids[i]);
      const bool again = s_.only.contains(ids[i]);
      if (done != tries_.end() && !again) {
        auto r = judge_tries(*check, done->second, s_.profile);
        if (!r) co_return r.error();
        view_.check_ends(*r, true);
        results_.push_back(std::move(*r));
        continue;
      }
      view_.check_starts(check->info(), i + 1, ids.size());
      auto one = co_await one_check(*check, stop_reason);
      if (!one) {
        const auto code = one.error().code;
        if (code == ErrorCode::io || code == ErrorCode::privacy || code == ErrorCode::bad_format)
          co_return one.error();
        co_return Ended{std::nullopt, one.error()};
      }
      view_.check_ends(*one, false);
      results_.push_back(std::move(*one));
    }
    co_return Ended{make_record(), std::nullopt};
  }

  /// Acquires (again after a lost link), journals, judges.
  net::awaitable<Result<CheckResult>> one_check(const checks::AnyCheck& check,
                                                std::optional<std::string>& stop_reason) {
    const std::string id = check.info().id.str();
    json entry = json::object();
    entry["check"] = id;
    entry["try"] = tries_[id].size() + 1;
    if (const auto w = s_.waived.find(id); w != s_.waived.end()) {
      entry["not_tested"] = w->second.view();
      entry["waived"] = true;
    } else if (stop_reason) {
      entry["not_tested"] = *stop_reason;
    } else {
      for (;;) {
        const auto before = co_await bench_now();
        checks::Context context{*session_.phone, session_.page.get(), *s_.clock, *s_.hands, view_};
        auto capture = co_await check.acquire(context, s_.profile.sections);
        if (capture) {
          entry["bench_seconds"] = std::max(0.0, co_await bench_now() - before);
          entry["capture"] = std::move(*capture);
          break;
        }
        const Error e = capture.error();
        if (e.code == ErrorCode::cancelled) co_return e;
        if (e.code == ErrorCode::safety) {
          view_.safety_stop(e.what, e.next);
          entry["safety"] = reason_of(e);
          stop_reason = "the run was stopped for safety";
          break;
        }
        co_await hang_up_if_silent();
        if (!session_.link->alive()) {
          if (auto back = co_await wait_for_phone(); !back) co_return back.error();
          continue;
        }
        entry["not_tested"] = reason_of(e);
        break;
      }
    }
    if (auto w = journal_->append(entry); !w) co_return w.error();
    tries_[id].push_back(std::move(entry));
    co_return judge_tries(check, tries_[id], s_.profile);
  }

  /// A radio or a hub may lose a phone without a word: the connection stands, and no answer comes any more.
  /// That is a lost link, not a phone that cannot be tested.
  net::awaitable<void> hang_up_if_silent() {
    const auto t = co_await session_.phone->uptime_s();
    if (!t && t.error().code == ErrorCode::timed_out) session_.link->close();
  }

  /// The phone's own clock, so that bench time is right whatever drives it.
  net::awaitable<double> bench_now() {
    auto t = co_await session_.phone->uptime_s();
    if (t) co_return *t;
    if (t.error().code == ErrorCode::timed_out) session_.link->close();
    co_return std::chrono::duration<double>(s_.clock->now()).count();
  }

  record::Record make_record() {
    record::Record r;
    r.run_id = run_id_;
    r.kind = s_.kind;
    r.job = s_.job;
    r.bench = s_.bench;
    r.started_utc = started_;
    r.finished_utc = utc_text(net::utc_now_s());
    r.clock = s_.clock->kind();
    r.link = link_kind_;
    r.phone_tag = session_.who.tag;
    r.phone_tail = session_.who.tail;
    r.model = s_.profile.name;
    r.profile_sha256 = s_.profile.sha256;
    r.software = s_.software;
    std::vector<Outcome> outcomes;
    for (const auto& c : results_) {
      outcomes.push_back(c.outcome);
      r.bench_seconds += c.bench_seconds;
    }
    r.outcome = checks::combine(outcomes);
    r.checks = std::move(results_);
    return r;
  }

  /// Leaves the phone as it was found, as far as a link can.
  net::awaitable<void> tidy() {
    if (session_.link && session_.link->alive()) {
      if (session_.page) (void)co_await session_.page->close();
      (void)co_await session_.phone->stop_load();
    }
    session_.page.reset();
    if (session_.link) session_.link->close();
  }

  Setup s_;
  View& view_;
  std::vector<std::unique_ptr<checks::AnyCheck>> all_;
  Session session_;
  std::optional<Journal> journal_;
  std::map<std::string, std::vector<json>> tries_;
  std::vector<CheckResult> results_;
  std::string started_, run_id_, tag_;
  Term link_kind_ = "tcp";
};
}  // namespace

net::awaitable<Result<Ended>> run_checklist(Setup setup, View& view) {
  auto run = std::make_unique<Run>(std::move(setup), view);
  co_return co_await run->go();
}

Result<std::vector<CheckResult>> replay(const std::filesystem::path& file, const profiles::Profile& profile) {
  auto c = Journal::read(file);
  if (!c) return c.error();
  if (c->header.value("profile_sha256", "") != profile.sha256)
    return Error{ErrorCode::bad_format, "the journal was made with another profile", file.string(),
                 "Replay it with that profile."};
  const auto all = checks::all_checks();
  std::vector<CheckResult> out;
  for (const auto& id : profile.checks) {
    std::vector<json> tries;
    for (const auto& e : c->entries)
      if (e.value("check", "") == id) tries.push_back(e);
    if (tries.empty()) continue;
    auto r = judge_tries(*find(all, id), tries, profile);
    if (!r) return r.error();
    out.push_back(std::move(*r));
  }
  return out;
}
}  // namespace hb::run
