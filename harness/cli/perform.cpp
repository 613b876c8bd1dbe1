#include "perform.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <sodium.h>

#include <algorithm>
#include <chrono>

#include "checks/registry.hpp"
#include "choose_profile.hpp"
#include "harness/base/text.hpp"
#include "harness/phone/phone.hpp"
#include "harness/run/fixture.hpp"
#include "harness/run/journal.hpp"
#include "harness/run/run.hpp"
#include "harness/run/run_lock.hpp"
#include "keys.hpp"
#include "reports/record/utc.hpp"
#include "resuming.hpp"
#include "right_job.hpp"
#include "terminal.hpp"
#include "version.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;
using Dial = run::Setup::Connect;

/// Time and random: sorts by time, unique across benches. 26 characters, Crockford's base 32.
std::string new_run_id() {
  static constexpr char digits[] = "0123456789abcdefghjkmnpqrstvwxyz";
  auto ms = static_cast<std::uint64_t>(std::chrono::duration_cast<std::chrono::milliseconds>(
                                           std::chrono::system_clock::now().time_since_epoch())
                                           .count());
  std::string id(26, '0');
  for (int i = 9; i >= 0; --i, ms >>= 5) id[static_cast<std::size_t>(i)] = digits[ms & 31];
  for (std::size_t i = 10; i < 26; ++i) id[i] = digits[randombytes_uniform(32)];
  return id;
}

Result<profiles::Profile> load_named(const std::string& file) {
  const auto known = checks::all_checks();
  auto l = profiles::load(file, known);
  if (l.profile) return std::move(*l.profile);
  Error first = l.problems.front();
  if (l.problems.size() > 1)
    first.next += fmt::format(" ({} more: handback profile check {})", l.problems.size() - 1, file);
  return first;
}

/// Asks the phone which of the known profiles fits it. The phone's own words are compared and dropped.
net::awaitable<Result<profiles::Profile>> find_fitting(const App& app, Home home, Dial dial,
                                                       link::BenchRsaKey key) {
  auto transport = co_await dial();
  if (!transport) co_return transport.error();
  link::LinkOptions options;
  options.on_waiting_for_owner = [&app] {
    app.output->say(
        "Look at the phone: it asks whether this bench may connect. Tap Allow (the screen must be "
        "unlocked).\n");
  };
  auto opened = co_await link::Link::open(std::move(*transport), std::move(key), options);
  if (!opened) co_return opened.error();
  const auto phone = phone::Phone::on(*opened);
  const auto known = checks::all_checks();
  for (const auto& f : profiles::find_files(profile_folders(home))) {
    auto l = profiles::load(f, known);
    if (!l.profile) continue;
    auto fits = co_await phone->is_model(l.profile->device, l.profile->model);
    if (!fits) co_return fits.error();
    if (*fits) {
      (*opened)->close();
      co_return std::move(*l.profile);
    }
  }
  (*opened)->close();
  co_return Error{ErrorCode::not_found, "no profile fits this phone", (home.root() / "profiles").string(),
                  "Make one for this model: handback profile new FILE, fill it in, put it into that folder."};
}

/// A run that customers cannot check is better known of before it than after.
void warn_of_certificate(const App& app, const Certified& c) {
  using State = Certified::State;
  if (c.state != State::missing && c.state != State::ended && c.state != State::ends_soon) return;
  app.output->say(fmt::format(
      "The certificate of this bench's key: {}. {} Renew it where the shop's root is: handback "
      "bench root certify\n",
      c.says,
      c.state == State::ends_soon ? "It ends soon."
                                  : "Whoever trusts the root alone cannot check this run's sheet."));
}

// ---------------------------------------------------------------- a run that was begun before

std::string text_at(const json& j, const char* key) {
  const auto it = j.is_object() ? j.find(key) : j.end();
  return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}

std::vector<std::string> texts_at(const json& j, const char* key) {
  std::vector<std::string> out;
  const auto it = j.is_object() ? j.find(key) : j.end();
  if (it != j.end() && it->is_array())
    for (const auto& v : *it)
      if (v.is_string()) out.push_back(v.get<std::string>());
  return out;
}

std::optional<record::RunKind> kind_named(std::string_view word) {
  for (const auto k : {record::RunKind::intake, record::RunKind::release, record::RunKind::comeback})
    if (record::name(k).view() == word) return k;
  return std::nullopt;
}

/// A resumed run stays the run that it was: `asked` may be missing, and must not differ.
Result<void> same(const std::string& run, const char* option, const std::string& was,
                  const std::string& asked) {
  if (asked.empty() || asked == was) return {};
  return Error{ErrorCode::refused,
               fmt::format("run {} was started with {} {}, not {}", run, option, was, asked), option,
               fmt::format("Leave {} away, or start a new run: without --resume.", option)};
}

Result<void> same_job_and_kind(const std::string& run, const std::string& job, const std::string& kind,
                               const RunArgs& args) {
  if (auto r = same(run, "--job", job, args.job); !r) return r;
  return same(run, "--kind", kind, args.kind ? record::name(*args.kind).str() : std::string());
}

/// What the journal's header says, in place of what was not given.
Result<void> take_from_header(const json& header, RunArgs& args) {
  const auto kind = kind_named(text_at(header, "kind"));
  if (!kind || text_at(header, "job").empty())
    return Error{ErrorCode::bad_format, "the journal does not say of which job and kind the run is",
                 args.resume, "Start a new run: without --resume."};
  if (auto r = same_job_and_kind(args.resume, text_at(header, "job"), text_at(header, "kind"), args); !r)
    return r;
  if (!args.only.empty() || !args.opened.empty() || args.other_phone != nullptr)
    return Error{ErrorCode::invalid_argument,
                 "a paused run goes on with the checks and the phone that it has", "--resume",
                 "Give --only, --opened-again and --other-phone when a run starts."};
  args.job = text_at(header, "job");
  args.kind = *kind;
  args.only = texts_at(header, "only");
  args.opened = texts_at(header, "opened");
  args.other_phone = record::find_word(record::other_phone_reasons(), text_at(header, "other_phone"));
  if (const auto h = header.find("cure_hours"); !args.cure_hours && h != header.end() && h->is_number())
    args.cure_hours = h->get<double>();
  if (const auto w = header.find("waived"); w != header.end() && w->is_object())
    for (const auto& [check, reason] : w->items())
      if (const auto* word = record::find_word(
              record::waiver_reasons(), reason.is_string() ? reason.get<std::string>() : std::string()))
        args.waived.emplace(check, word);
  return {};
}

/// By its content: the file that was used, wherever it lies now.
Result<profiles::Profile> profile_of(const Home& home, const json& header, const RunArgs& args) {
  const auto wanted = text_at(header, "profile_sha256"), kept = text_at(header, "profile_file");
  if (!args.profile.empty()) {
    auto p = load_named(args.profile);
    if (p && p->sha256 != wanted)
      return Error{ErrorCode::refused,
                   fmt::format("run {} was started with another profile: {} (sha256 {:.12}), not {} ({:.12})",
                               args.resume, kept.empty() ? text_at(header, "model") : kept, wanted,
                               args.profile, p->sha256),
                   "--profile", "Leave --profile away, or start a new run: without --resume."};
    return p;
  }
  auto files = profiles::find_files(profile_folders(home));
  if (!kept.empty()) files.emplace_back(kept);
  for (const auto& f : files)
    if (const auto bytes = read_file(f, 4u << 20); bytes && hex(sha256(as_bytes(*bytes))) == wanted)
      return load_named(f.string());
  return Error{
      ErrorCode::not_found,
      fmt::format("the profile that run {} was started with is not here any more: {} (sha256 {:.12})",
                  args.resume, text_at(header, "model"), wanted),
      kept, "Put it back as it was, or name it with --profile."};
}

// ---------------------------------------------------------------- a run of the right job on the right phone

struct ChosenJob {
  record::Job job;
  std::optional<JobPhone> phone;
  std::optional<Openings> by_itself;  ///< nobody named it
};

Result<ChosenJob> choose_job(const Home& home, const ledger::Ledger& ledger, const std::set<std::string>& own,
                             const std::string& id) {
  if (id.empty()) {
    auto all = look_for_open_jobs(home, ledger, own);
    if (!all) return all.error();
    if (all->open.empty())
      return Error{ErrorCode::not_found, "no job of this bench is open", "--job",
                   "Take the job in first (handback intake --help), or name one: --job."};
    if (all->open.size() > 1)
      return Error{ErrorCode::invalid_argument,
                   fmt::format("{} jobs of this bench are open", all->open.size()), "--job",
                   "Say which one with --job:" + list_of(all->open)};
    const auto& one = all->open.front();
    return ChosenJob{one.job, one.phone, std::move(*all)};
  }
  auto job = ledger.job(id);
  if (!job) return job.error();
  auto phone = phone_of(home, ledger, own, *job);
  if (!phone) return phone.error();
  return ChosenJob{std::move(*job), std::move(*phone), std::nullopt};
}

/// A sheet speaks of one phone: the job's.
Result<void> right_phone(const ChosenJob& chosen, const record::Word* other, const phone::Identity& who) {
  std::string which =
      chosen.by_itself ? "\nOr name the job of this phone with --job:" + list_of(chosen.by_itself->open) : "";
  if (chosen.phone && !chosen.phone->paused_run.empty())
    which +=
        "\nIf that run was begun on a wrong phone, drop it: handback run --drop " + chosen.phone->paused_run;
  if (chosen.phone && !chosen.phone->is(who)) {
    if (other != nullptr) return {};
    return Error{ErrorCode::refused,
                 fmt::format("the phone ..{} is connected, and {} was of the phone ..{}", who.tail,
                             chosen.phone->seen, chosen.phone->tail),
                 chosen.job.id,
                 fmt::format("Connect the right phone. If it has another serial number now, say why: "
                             "--other-phone REASON, with REASON one of {}.{}",
                             record::words_of(record::other_phone_reasons()), which)};
  }
  if (other != nullptr)
    return Error{ErrorCode::invalid_argument,
                 chosen.phone ? "this is the phone that the job has had" : "the job has had no phone yet",
                 "--other-phone", "Leave --other-phone away."};
  if (!chosen.by_itself || chosen.phone) return {};
  const auto had = chosen.by_itself->phone_job.find(who.tag);
  if (had == chosen.by_itself->phone_job.end()) return {};
  return Error{ErrorCode::refused,
               fmt::format("the phone ..{} was here for job {}, and the open job {} has had no phone yet",
                           who.tail, had->second, chosen.job.id),
               "--job", "Say which job this run is of: --job."};
}

/// Only what the customer agreed to, at intake and over the job's signature.
Result<void> agreed(const record::Job& job, const std::map<std::string, const record::Word*>& waived) {
  for (const auto& [check, word] : waived) {
    const bool covered =
        std::any_of(job.waivers.begin(), job.waivers.end(),
                    [&, c = check, w = word](const auto& x) { return x.check == c && x.reason == w->id; });
    if (!covered)
      return Error{ErrorCode::refused,
                   fmt::format("the customer's agreement to leave out {} ({}) is not on job {}", check,
                               word->id.view(), job.id),
                   "--waive",
                   fmt::format("Agreements are written down at intake: handback intake --waive {}:{} ...",
                               check, word->id.view())};
  }
  return {};
}

Result<void> all_known(const profiles::Profile& profile, const std::set<std::string>& among,
                       const std::vector<std::string>& ids, const char* option) {
  for (const auto& id : ids) {
    if (std::find(profile.checks.begin(), profile.checks.end(), id) == profile.checks.end())
      return Error{ErrorCode::invalid_argument, fmt::format("the profile has no check '{}'", id), option,
                   fmt::format("It has: {}.", fmt::join(profile.checks, ", "))};
    if (!among.contains(id))
      return Error{ErrorCode::invalid_argument, fmt::format("this run does not take {}", id), option,
                   fmt::format("It takes: {}.", fmt::join(among, ", "))};
  }
  return {};
}

template <class Map>
std::vector<std::string> keys_of(const Map& map) {
  std::vector<std::string> out;
  for (const auto& [k, v] : map) out.push_back(k);
  return out;
}

int code_of(std::string_view outcome) {
  if (outcome == "pass" || outcome == "waived") return kPass;
  return outcome == "fail" ? kFail : kIncomplete;
}

struct Prepared {
  std::optional<run::Setup> setup;
  std::optional<run::RunLock> lock;
  std::string run_id;
  std::optional<Performed> done;  ///< of a run that was finished before
};

/// The journal's header of a paused run; none for a run that starts, or that goes on from a finished one
/// (then `args` says so).
Result<std::optional<json>> resumed(const Home& home, const ledger::Ledger& ledger, RunArgs& args,
                                    Prepared& p) {
  if (args.resume.empty()) return std::optional<json>();
  const auto finished = ledger.find(args.resume);
  if (!finished && finished.error().code != ErrorCode::not_found) return finished.error();
  if (finished) {
    const auto& record = finished->content;
    const auto kind = record["run"].value("kind", "");
    if (auto r = same_job_and_kind(args.resume, record["job"].value("id", ""), kind, args); !r)
      return r.error();
    if (args.retest.empty()) {
      auto d = write_documents(home, finished->payload, record, args.form, home.sheets() / args.resume);
      if (!d) return d.error();
      p.done.emplace();
      p.done->documents = std::move(*d);
      p.done->record = record;
      p.done->again = true;
      p.done->code = code_of(record.value("outcome", ""));
      return std::optional<json>();
    }
    args.job = record["job"].value("id", "");
    args.kind = kind_named(kind);
    args.only = {args.retest.begin(), args.retest.end()};
    args.retest.clear();
    args.resume.clear();
    return std::optional<json>();
  }
  auto journal = run::Journal::read(home.runs() / (args.resume + ".jsonl"));
  if (!journal) return journal.error();
  if (auto r = take_from_header(journal->header, args); !r) return r.error();
  return std::optional(std::move(journal->header));
}

net::awaitable<Result<Prepared>> prepare(const App& app, Home home, RunArgs args) {
  if (auto r = home.prepare(); !r) co_return r.error();
  auto bench = home.bench();
  if (!bench) co_return bench.error();
  auto sign_key = bench_key(home);
  if (!sign_key) co_return sign_key.error();
  auto link_key = link::BenchRsaKey::load_or_make(home.link_key());
  if (!link_key) co_return link_key.error();
  auto tag_key = home.tag_key();
  if (!tag_key) co_return tag_key.error();
  auto ledger = ledger::Ledger::open(home.ledger(), *sign_key);
  if (!ledger) co_return ledger.error();

  Prepared p;
  const auto lock_it = [&](const std::string& id) -> Result<void> {
    auto lock = run::RunLock::take(home.runs() / (id + ".lock"), record::utc_text(net::utc_now_s()));
    if (!lock) return lock.error();
    p.run_id = id;
    p.lock.emplace(std::move(*lock));
    return {};
  };
  if (!args.resume.empty()) {
    if (!is_run_id(args.resume))
      co_return Error{ErrorCode::invalid_argument, "this is no run", "--resume", "See: handback run --list"};
    if (auto r = lock_it(args.resume); !r) co_return r.error();
  }
  const auto header = resumed(home, *ledger, args, p);
  if (!header) co_return header.error();
  if (p.done) co_return Result<Prepared>(std::move(p));
  if (args.resume.empty()) {
    p.lock.reset();
    if (auto r = lock_it(new_run_id()); !r) co_return r.error();
  }
  if (args.device.empty())
    co_return Error{ErrorCode::invalid_argument, "which phone?", "--device",
                    "Give --device usb, or --device tcp:HOST:PORT."};
  auto dial = dialler(args.device);
  if (!dial) co_return dial.error();
  const auto kind = args.kind.value_or(record::RunKind::release);
  const auto own = own_key_ids(home, sign_key->key_id());
  auto chosen = choose_job(home, *ledger, own, args.job);
  if (!chosen) co_return chosen.error();
  if (!chosen->job.consent_tests)
    co_return Error{ErrorCode::refused, "the owner's consent to these tests is not on the job",
                    chosen->job.id, "Ask the owner, then take the job in again with --consent."};
  if (auto r = agreed(chosen->job, args.waived); !r) co_return r.error();

  Result<profiles::Profile> profile = Error{};
  if (*header)
    profile = profile_of(home, **header, args);
  else if (args.profile.empty())
    profile = co_await find_fitting(app, home, *dial, *link_key);
  else
    profile = load_named(args.profile);
  if (!profile) co_return profile.error();

  std::optional<ledger::Entry> earlier;
  if (*header) {
    if (const auto follows = text_at(**header, "follows"); !follows.empty()) {
      auto e = ledger->find(follows);
      if (!e) co_return e.error();
      earlier = std::move(*e);
    }
  } else {
    auto e = last_run(*ledger, chosen->job.id, kind);
    if (!e) co_return e.error();
    earlier = std::move(*e);
  }
  auto plan = plan_run(*profile, earlier, {args.only, args.opened});
  if (!plan) co_return plan.error();
  if (auto r = all_known(*profile, plan->measure, keys_of(args.waived), "--waive"); !r) co_return r.error();
  if (auto r = all_known(*profile, plan->measure, {args.retest.begin(), args.retest.end()}, "--retest"); !r)
    co_return r.error();

  json waived = json::object();
  for (const auto& [check, word] : args.waived) waived[check] = word->id.view();
  std::error_code ec;
  json remember = {{"profile_file", fs::absolute(profile->file, ec).string()},
                   {"only", args.only},
                   {"opened", args.opened},
                   {"waived", std::move(waived)}};
  if (plan->follows) remember["follows"] = plan->follows->run_id;
  if (args.other_phone != nullptr) remember["other_phone"] = args.other_phone->id.view();
  if (args.cure_hours) remember["cure_hours"] = *args.cure_hours;

  auto& s = p.setup.emplace(*dial, *link_key, *tag_key, std::move(*profile));
  s.kind = kind;
  s.job = chosen->job;
  if (args.cure_hours) s.job.cure_hours = args.cure_hours;
  s.bench = record::Bench{bench->shop, bench->name, bench->contact, sign_key->key_id()};
  s.software = kSoftware;
  s.resume = header->has_value();
  s.journal = home.runs() / (p.run_id + ".jsonl");
  s.use_page = args.use_page;
  s.overlap = args.overlap;
  for (const auto& [check, word] : args.waived) s.waived.emplace(check, word->says);
  s.retest = args.retest;
  s.wait_for_phone = std::chrono::seconds(args.wait_for_phone_s);
  s.follows = std::move(plan->follows);
  s.carried = std::move(plan->carried);
  s.set_aside = std::move(plan->set_aside);
  if (args.other_phone != nullptr) s.other_phone = args.other_phone->id;
  s.remember = std::move(remember);
  s.accept = [chosen = std::move(*chosen), other = args.other_phone](const std::string& tag,
                                                                     const std::string& tail) {
    return right_phone(chosen, other, phone::Identity{tag, tail});
  };
  co_return Result<Prepared>(std::move(p));
}

// ---------------------------------------------------------------- the end

/// A connection string may hold a password.
bool may_be_shown(const std::string& place) {
  return place.find("password") == std::string::npos && place.find('@') == std::string::npos;
}

/// A sheet that is dated before what the ledger already holds would be believed by nobody.
Result<void> clock_fits(const Home& home, const std::set<std::string>& own) {
  constexpr std::int64_t kOtherBenchesClock = 60;  // seconds that two computers' clocks may differ
  const auto ledger = ledger::Ledger::read(home.ledger());
  if (!ledger) return ledger.error();
  const auto head = ledger->head();
  if (!head) return head.error();
  if (head->size == 0) return {};
  const auto content = sign::peek(head->jws);
  if (!content) return content.error();
  const auto at = record::utc_seconds(text_at(*content, "at"));
  if (!at) return at.error();
  const auto now = net::utc_now_s();
  if (now + (own.contains(signer_of(head->jws)) ? 0 : kOtherBenchesClock) >= *at) return {};
  return Error{
      ErrorCode::refused,
      fmt::format("the computer's clock says {}, and the ledger's last entry was signed at {}: nothing is "
                  "signed with a time before that",
                  record::utc_text(now), record::utc_text(*at)),
      "clock", "Set the clock right, then go on."};
}
}  // namespace

bool is_run_id(const std::string& text) {
  return text.size() == 26 &&
         text.find_first_not_of("0123456789abcdefghijklmnopqrstuvwxyz") == std::string::npos;
}

std::string where_options(const App& app) {
  std::error_code ec;
  std::string out;
  const auto add = [&](const char* option, const std::string& value) {
    if (!value.empty()) out += fmt::format(" {} {}", option, shell_word(value));
  };
  add("--home", app.home_option.empty() ? "" : fs::absolute(app.home_option, ec).string());
  if (may_be_shown(app.ledger_option)) add("--ledger", app.ledger_option);
  add("--key", app.keys->key_file.empty() ? "" : fs::absolute(app.keys->key_file, ec).string());
  return out;
}

Result<std::map<std::string, const record::Word*>> parse_waivers(const std::vector<std::string>& texts) {
  std::map<std::string, const record::Word*> out;
  const auto known = checks::all_checks();
  for (const auto& t : texts) {
    const auto colon = t.find(':');
    const auto check = t.substr(0, colon);
    const auto* word = colon == std::string::npos
                           ? nullptr
                           : record::find_word(record::waiver_reasons(), t.substr(colon + 1));
    const bool is_check =
        std::any_of(known.begin(), known.end(), [&](const auto& c) { return c->info().id.view() == check; });
    if (word == nullptr || !is_check)
      return Error{
          ErrorCode::invalid_argument, is_check ? "this is no waiver" : "there is no such check", "--waive",
          fmt::format("Expected CHECK:REASON with REASON one of {}; checks: handback profile list --json.",
                      record::words_of(record::waiver_reasons()))};
    out[check] = word;
  }
  return out;
}

namespace {
Result<Performed> published(Result<Documents> documents, const json& record, const std::string& command) {
  if (!documents) return with_resume(documents.error(), command);
  Performed out;
  out.documents = std::move(*documents);
  out.record = record;
  out.code = code_of(record.value("outcome", ""));
  return out;
}

net::awaitable<Result<Performed>> measure_and_publish(const App& app, Home home, RunArgs args) {
  co_await net::asio::this_coro::throw_if_cancelled(false);
  if (!args.resume.empty() && args.retest.empty() && is_run_id(args.resume) &&
      has_signed_record(home, args.resume)) {
    if (const auto journal = run::Journal::read(home.runs() / (args.resume + ".jsonl")))
      if (auto r = same_job_and_kind(args.resume, text_at(journal->header, "job"),
                                     text_at(journal->header, "kind"), args);
          !r)
        co_return r.error();
    const auto lock =
        run::RunLock::take(home.runs() / (args.resume + ".lock"), record::utc_text(net::utc_now_s()));
    if (!lock) co_return lock.error();
    *app.resume = command_to_resume(app, home, args, args.resume);
    auto finished = finish(home, args.resume, args.form);
    if (!finished) co_return with_resume(finished.error(), *app.resume);
    co_return published(std::move(finished->documents), finished->record, *app.resume);
  }
  auto prepared = co_await prepare(app, home, args);
  if (!prepared) co_return prepared.error();
  if (prepared->done) co_return std::move(*prepared->done);
  auto& setup = *prepared->setup;
  std::shared_ptr<run::Fixture> fixture;
  TerminalView view(*app.output, app.quiet, is_terminal(stderr), wants_colour(stderr));
  if (args.fixture.empty()) {
    setup.op = std::make_shared<TerminalOperator>(view);
    setup.clock = std::make_shared<net::WallClock>();
  } else {
    auto hp = parse_tcp(args.fixture, "--fixture");
    if (!hp) co_return hp.error();
    auto f = co_await run::Fixture::connect(hp->host, hp->port);
    if (!f) co_return f.error();
    fixture = *f;
    setup.op = fixture->op();
    setup.clock = fixture->clock();
  }
  if (!app.quiet) {
    app.output->say(fmt::format("Job {} · {} · {} run {}\n", setup.job.id, setup.profile.name.str(),
                                record::name(setup.kind).view(), prepared->run_id));
    if (!setup.carried.empty() || !setup.set_aside.empty())
      app.output->say(fmt::format(
          "Goes on from run {}: {} results stand{}.\n", setup.follows->run_id, setup.carried.size(),
          setup.set_aside.empty() ? std::string()
                                  : fmt::format(", {} are stale and not taken now", setup.set_aside.size())));
    if (setup.clock->kind() != Term("wall"))
      app.output->say(
          fmt::format("Time is {}: bench minutes below are not the wall's.\n", setup.clock->kind().view()));
  }
  const auto certificate = certified(home, setup.bench.key_id);
  if (!certificate) co_return certificate.error();
  warn_of_certificate(app, *certificate);
  const std::string run_id = prepared->run_id;
  const auto own = own_key_ids(home, setup.bench.key_id);
  const auto journal = setup.journal;
  *app.resume = command_to_resume(app, home, args, run_id);
  auto ended = co_await run::run_checklist(std::move(setup), view);
  if (!ended && !fs::exists(journal)) co_return ended.error();
  if (!ended) co_return with_resume(ended.error(), *app.resume);

  Performed out;
  std::optional<Error> paused = ended->why;
  if (ended->record) {
    if (auto r = clock_fits(home, own); !r) {
      paused = r.error();
    } else if (auto docs = publish(home, *ended->record, args.form); docs) {
      out.documents = std::move(*docs);
    } else if (docs.error().code == ErrorCode::io) {
      paused = docs.error();  // a full disk: the journal has everything
    } else {
      co_return docs.error();
    }
  }
  if (!out.documents) {
    out.code = kPaused;
    out.run = run_id;
    out.why_paused = paused ? paused->message() : "";
    out.resume_command = *app.resume;
    co_return out;
  }
  out.times = ended->times;
  out.record = record::to_json(*ended->record);
  out.code = code_of(out.record.value("outcome", ""));
  co_return out;
}
}  // namespace

net::awaitable<Result<Performed>> perform(const App& app, Home home, RunArgs args) {
  try {
    co_return co_await measure_and_publish(app, std::move(home), std::move(args));
  } catch (const std::exception& e) {
    co_return with_resume(unforeseen(e), *app.resume);
  }
}

namespace {
void show_pause(const App& app, const Performed& p) {
  if (p.run.empty()) return;
  if (app.json)
    app.output->result(json{{"outcome", "paused"},
                            {"exit_code", p.code},
                            {"run", p.run},
                            {"why", p.why_paused},
                            {"resume", p.resume_command}}
                           .dump(2) +
                       "\n");
  app.output->say(fmt::format("PAUSED: {}\nWhat was measured is kept. Go on with:\n  {}\n", p.why_paused,
                              p.resume_command));
}
}  // namespace

void show_end(const App& app, const Performed& p) {
  if (!p.documents) return show_pause(app, p);
  const auto& d = *p.documents;
  if (app.json) {
    json out = {{"outcome", p.record["outcome"]},
                {"exit_code", p.code},
                {"job", p.record["job"]["id"]},
                {"run", p.record["run"]["id"]},
                {"bench_seconds", p.times.taken_s},
                {"bench_seconds_in_a_row", p.times.in_a_row_s},
                {"bench_seconds_least", p.times.least_s},
                {"clock", p.record["run"]["clock"]},
                {"sheet_pdf", d.pdf.string()},
                {"sheet_html", d.html.string()},
                {"record", d.record.string()},
                {"shop_record", d.shop.string()}};
    out["checks"] = json::array();
    for (const auto& c : p.record["checks"]) {
      json findings = json::array();
      for (const auto& f : c["findings"]) findings.push_back(f["id"]);
      out["checks"].push_back(
          {{"id", c["id"]}, {"outcome", c["outcome"]}, {"findings", findings}, {"reason", c["reason"]}});
    }
    app.output->result(out.dump(2) + "\n");
    return;
  }
  app.output->result(fmt::format("\n{}\n", sheet::text_summary(p.record, wants_colour(stdout))));
  if (p.again)
    app.output->result("The run was finished before; its files were written again.\n");
  else
    app.output->result(
        fmt::format("One check after another takes {:.1f} min; no order takes less than {:.1f} min.\n",
                    p.times.in_a_row_s / 60, p.times.least_s / 60));
  app.output->result(
      fmt::format("Customer sheet   {}\n                 {}\nShop record      {}\nSigned record    {}\n",
                  d.pdf.string(), d.html.string(), d.shop.string(), d.record.string()));
  app.output->result(
      "\nBefore you hand the phone back: revoke the USB debugging authorisation and switch debugging off on "
      "the phone\n"
      "(Settings, Developer options). Close the test page's tab; in the browser's settings, under site "
      "settings, remove the\n"
      "addresses that end in .localhost: each was of one run, so no program can use again what was allowed "
      "there.\n");
}
}  // namespace hb::cli
