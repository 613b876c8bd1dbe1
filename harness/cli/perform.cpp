#include "perform.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <sodium.h>

#include <chrono>

#include "checks/registry.hpp"
#include "choose_profile.hpp"
#include "harness/base/text.hpp"
#include "harness/phone/phone.hpp"
#include "harness/run/fixture.hpp"
#include "harness/run/run.hpp"
#include "keys.hpp"
#include "terminal.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;
using Dial = std::function<net::awaitable<Result<std::unique_ptr<link::Transport>>>()>;

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

Result<Dial> dialler(const std::string& device) {
  if (device.rfind("tcp:", 0) == 0) {
    auto hp = parse_tcp(device, "--device");
    if (!hp) return hp.error();
    return Dial([hp = *hp] { return link::connect_tcp(hp.host, hp.port, net::milliseconds(5000)); });
  }
  if (device == "usb") return Dial([] { return link::connect_usb(std::nullopt, net::milliseconds(5000)); });
  if (device.rfind("usb:", 0) == 0)
    return Dial([serial = device.substr(4)] { return link::connect_usb(serial, net::milliseconds(5000)); });
  return Error{ErrorCode::invalid_argument, "this is no device", "--device",
               "Expected tcp:HOST:PORT, usb or usb:SERIAL."};
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
net::awaitable<Result<profiles::Profile>> find_fitting(Home home, Dial dial, link::BenchRsaKey key) {
  auto transport = co_await dial();
  if (!transport) co_return transport.error();
  link::LinkOptions options;
  options.on_waiting_for_owner = [] {
    fmt::print(stderr,
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

Result<record::Job> choose_job(const ledger::Ledger& ledger, const std::string& id, record::RunKind kind) {
  if (!id.empty()) return ledger.job(id);
  auto jobs = ledger.jobs();
  if (!jobs) return jobs.error();
  for (auto it = jobs->rbegin(); it != jobs->rend(); ++it) {
    auto runs = ledger.runs(it->id);
    if (!runs) return runs.error();
    const bool released = std::any_of(runs->begin(), runs->end(), [](const ledger::Entry& e) {
      return e.content["run"].value("kind", "") == "release" && e.content.value("outcome", "") == "pass";
    });
    if (!released || kind != record::RunKind::release) return *it;
  }
  return Error{ErrorCode::not_found, "no open job", "--job", "Take the job in first: handback intake --help"};
}

/// A run that customers cannot check is better known of before it than after.
void warn_of_certificate(const Certified& c) {
  using State = Certified::State;
  if (c.state != State::missing && c.state != State::ended && c.state != State::ends_soon) return;
  fmt::print(stderr,
             "The certificate of this bench's key: {}. {} Renew it where the shop's root is: handback bench "
             "root certify\n",
             c.says,
             c.state == State::ends_soon ? "It ends soon."
                                         : "Whoever trusts the root alone cannot check this run's sheet.");
}

struct Prepared {
  run::Setup setup;
  std::string run_id;
};

net::awaitable<Result<Prepared>> prepare(Home home, RunArgs args) {
  if (auto r = home.prepare(); !r) co_return r.error();
  auto bench = home.bench();
  if (!bench) co_return bench.error();
  auto sign_key = bench_key(home);
  if (!sign_key) co_return sign_key.error();
  auto link_key = link::BenchRsaKey::load_or_make(home.link_key());
  if (!link_key) co_return link_key.error();
  auto tag_key = home.tag_key();
  if (!tag_key) co_return tag_key.error();
  auto dial = dialler(args.device);
  if (!dial) co_return dial.error();
  auto ledger = ledger::Ledger::open(home.ledger(), *sign_key);
  if (!ledger) co_return ledger.error();

  Result<profiles::Profile> profile = Error{};
  if (args.profile.empty())
    profile = co_await find_fitting(home, *dial, *link_key);
  else
    profile = load_named(args.profile);
  if (!profile) co_return profile.error();
  for (const auto& [id, reason] : args.waived)
    if (std::find(profile->checks.begin(), profile->checks.end(), id) == profile->checks.end())
      co_return Error{ErrorCode::invalid_argument, fmt::format("the profile has no check '{}'", id),
                      "--waive", "See: handback profile list --json"};
  for (const auto& id : args.retest)
    if (std::find(profile->checks.begin(), profile->checks.end(), id) == profile->checks.end())
      co_return Error{ErrorCode::invalid_argument, fmt::format("the profile has no check '{}'", id),
                      "--retest", "See: handback profile list --json"};
  auto job = choose_job(*ledger, args.job, args.kind);
  if (!job) co_return job.error();
  if (!job->consent_tests)
    co_return Error{ErrorCode::refused, "the owner's consent to these tests is not on the job", job->id,
                    "Ask the owner, then take the job in again with --consent."};

  Prepared p{run::Setup(*dial, *link_key, *tag_key, std::move(*profile)), ""};
  auto& s = p.setup;
  s.kind = args.kind;
  s.job = *job;
  if (args.cure_hours) s.job.cure_hours = args.cure_hours;
  s.bench = record::Bench{bench->shop, bench->name, bench->contact, sign_key->key_id()};
  s.software = kSoftware;
  s.resume = !args.resume.empty();
  p.run_id = s.resume ? args.resume : new_run_id();
  s.journal = home.runs() / (p.run_id + ".jsonl");
  s.use_page = args.use_page;
  s.overlap = args.overlap;
  s.waived = args.waived;
  s.only = args.retest;
  s.wait_for_phone = std::chrono::seconds(args.wait_for_phone_s);
  co_return Result<Prepared>(std::move(p));
}
}  // namespace

Result<HostPort> parse_tcp(const std::string& text, const std::string& option) {
  const Error bad{ErrorCode::invalid_argument, "this is no address", option,
                  "Expected tcp:HOST:PORT, for example tcp:192.0.2.7:5555."};
  if (text.rfind("tcp:", 0) != 0) return bad;
  const auto colon = text.rfind(':');
  const auto port = colon > 4 ? to_int(std::string_view(text).substr(colon + 1)) : std::nullopt;
  if (!port || *port < 1 || *port > 65535) return bad;
  return HostPort{text.substr(4, colon - 4), static_cast<std::uint16_t>(*port)};
}

net::awaitable<Result<Performed>> perform(const App& app, Home home, RunArgs args) {
  co_await net::asio::this_coro::throw_if_cancelled(false);
  auto prepared = co_await prepare(home, args);
  if (!prepared) co_return prepared.error();
  auto& setup = prepared->setup;
  std::shared_ptr<run::Fixture> fixture;
  TerminalView view(app.quiet, is_terminal(stderr), wants_colour(stderr));
  if (args.fixture.empty()) {
    setup.hands = std::make_shared<TerminalHands>(co_await net::asio::this_coro::executor, view);
    setup.clock = std::make_shared<net::WallClock>();
  } else {
    auto hp = parse_tcp(args.fixture, "--fixture");
    if (!hp) co_return hp.error();
    auto f = co_await run::Fixture::connect(hp->host, hp->port);
    if (!f) co_return f.error();
    fixture = *f;
    setup.hands = fixture->hands();
    setup.clock = fixture->clock();
  }
  if (!app.quiet) {
    fmt::print(stderr, "Job {} · {} · {} run {}\n", setup.job.id, setup.profile.name.str(),
               record::name(setup.kind).view(), prepared->run_id);
    if (setup.clock->kind() != Term("wall"))
      fmt::print(stderr, "Time is {}: bench minutes below are not the wall's.\n", setup.clock->kind().view());
  }
  const auto certificate = certified(home, setup.bench.key_id);
  if (!certificate) co_return certificate.error();
  warn_of_certificate(*certificate);
  const std::string run_id = prepared->run_id;
  auto ended = co_await run::run_checklist(std::move(setup), view);
  if (!ended) co_return ended.error();

  Performed out;
  if (!ended->record) {
    out.code = kPaused;
    fmt::print(stderr,
               "PAUSED: {}\nWhat was measured is kept. Go on with:\n  handback run --home {} --resume {} "
               "--device {} ...\n",
               ended->why ? ended->why->message() : "", home.root().string(), run_id, args.device);
    co_return out;
  }
  out.times = ended->times;
  out.record = record::to_json(*ended->record);
  auto docs = publish(home, *ended->record, args.form);
  if (!docs) co_return docs.error();
  out.documents = std::move(*docs);
  switch (ended->record->outcome) {
    case checks::Outcome::pass:
    case checks::Outcome::waived:
      out.code = kPass;
      break;
    case checks::Outcome::fail:
      out.code = kFail;
      break;
    default:
      out.code = kIncomplete;
  }
  co_return out;
}

void show_end(const App& app, const Performed& p) {
  if (!p.documents) return;
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
    fmt::print("{}\n", out.dump(2));
    return;
  }
  fmt::print("\n{}\n", sheet::text_summary(p.record, wants_colour(stdout)));
  fmt::print("One check after another takes {:.1f} min; no order takes less than {:.1f} min.\n",
             p.times.in_a_row_s / 60, p.times.least_s / 60);
  fmt::print("Customer sheet   {}\n                 {}\nShop record      {}\nSigned record    {}\n",
             d.pdf.string(), d.html.string(), d.shop.string(), d.record.string());
  fmt::print(
      "\nBefore you hand the phone back: revoke the USB debugging authorisation and switch debugging off on "
      "the phone\n"
      "(Settings, Developer options), and close the test page's tab.\n");
}
}  // namespace hb::cli
