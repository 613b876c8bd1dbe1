#include <fmt/format.h>

#include <chrono>

#include "app.hpp"
#include "perform.hpp"
#include "standin_process.hpp"
#include "tools/demo_history/demo_history.hpp"

namespace hb::cli {
namespace {

struct DemoArgs {
  SheetForm form;
  std::vector<std::string> faults;
  std::string model = "petal";
  std::string out = "handback-demo";
  std::string standin;
  std::string browser = "builtin";
  bool overlap = true;
  std::uint64_t seed = 1;
  std::string clock = "stepped";
  std::uint64_t pull_after = 0;
  int history = 0;
};

ShopText words(Term t) { return ShopText(t); }

/// An invented shop and an invented repair.
record::Job demo_job(const std::string& model) {
  record::Job j;
  j.consent_tests = true;
  j.cure_hours = 24;
  if (model == "petal") {
    j.fault = words("inner screen dark along the fold; outer screen cracked; after a fall");
    j.repair_kind = words("display-hinge swap");
    j.colour_agreed = words("graphite");
    j.parts_fitted = {{words("display-hinge assembly"), words("LOT-24K7")},
                      {words("rear cover adhesive set"), words("LOT-11C2")}};
  } else {
    j.fault = words("screen dark");
    j.repair_kind = words("display swap");
    j.colour_agreed = words("black");
    j.parts_fitted = {{words("display assembly"), words("LOT-31A4")},
                      {words("rear cover adhesive set"), words("LOT-11C2")}};
  }
  return j;
}

int run_demo(const App& app, const DemoArgs& args) {
  const Home home(args.out);
  if (auto r = home.prepare(); !r) return report(app, r.error());
  if (auto r = home.set_bench({words("Copperbeck Phone Bench"), words("demo bench"),
                               words("14 Tanner Row, Copperbeck (an invented shop)")});
      !r)
    return report(app, r.error());
  auto key = bench_key(home);
  if (!key) return report(app, key.error());
  std::string job_id;
  {
    auto ledger = ledger::Ledger::open(home.ledger(), *key);
    if (!ledger) return report(app, ledger.error());
    if (args.history > 0)
      if (auto h = hb::demo::seed_demo_history(*ledger, args.history, args.seed); !h)
        return report(app, h.error());
    auto job = ledger->open_job(demo_job(args.model));
    if (!job) return report(app, job.error());
    job_id = job->id;
  }
  std::vector<std::string> words{"--model",  args.model,  "--seed",     std::to_string(args.seed), "--clock",
                                 args.clock, "--browser", args.browser, "--exit-with-parent"};
  for (const auto& f : args.faults) words.insert(words.end(), {"--fault", f});
  if (args.pull_after > 0)
    words.insert(words.end(),
                 {"--pull-after-packets", std::to_string(args.pull_after), "--back-after-ms", "400"});
  auto standin = StandinProcess::start(args.standin.empty() ? find_standin() : args.standin, words);
  if (!standin) return report(app, standin.error());
  if (!app.quiet) {
    app.output->say(
        "handback demo on the stand-in phone: a simulated phone with simulated hands. Nothing here "
        "was measured on a real phone.\n");
    if (!args.faults.empty())
      app.output->say(fmt::format("Fault switched on: {}\n", fmt::join(args.faults, ", ")));
  }
  RunArgs run;
  run.device = fmt::format("tcp:127.0.0.1:{}", standin->port);
  run.fixture = fmt::format("tcp:127.0.0.1:{}", standin->jig_port);
  run.job = job_id;
  run.form = args.form;
  run.use_page = args.browser != "none";
  run.overlap = args.overlap;
  run.again = fmt::format("{} demo --out {}", app.self, args.out);
  const auto start = std::chrono::steady_clock::now();
  return run_async(app, [&app, home, run, start]() -> net::awaitable<int> {
    auto p = co_await perform(app, home, run);
    if (!p) co_return report(app, p.error());
    show_end(app, *p);
    if (p->documents && !app.json) {
      const double wall = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
      app.output->result(fmt::format(
          "\n{:.1f} bench minutes of simulated time passed in {:.1f} s.\nCheck the sheet:  {} verify --home "
          "{} "
          "{}\n",
          p->times.taken_s / 60, wall, app.self, home.root().string(), p->documents->pdf.string()));
    }
    co_return p->code;
  });
}
}  // namespace

void add_demo(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("demo", "the whole job on the built-in stand-in phone, in a few seconds");
  auto args = std::make_shared<DemoArgs>();
  sub->add_option("--fault", args->faults,
                  "switch a fault on: NAME or NAME:DEGREE (standin --list-faults names them)");
  sub->add_option("--model", args->model, "petal (clamshell fold) or plank (slab)")
      ->check(CLI::IsMember({"petal", "plank"}))
      ->capture_default_str();
  sub->add_option("--seed", args->seed, "another unit of the same model")->capture_default_str();
  sub->add_option("--out", args->out, "folder for the demo's keys, ledger and sheets")->capture_default_str();
  sub->add_flag("!--one-at-a-time", args->overlap, "no two checks at the same time");
  sub->add_option("--browser", args->browser, "the phone's browser: builtin, none, or the path of a Chromium")
      ->capture_default_str();
  sub->add_option("--clock", args->clock, "the stand-in's time: stepped, wall, or rate:N")
      ->capture_default_str();
  sub->add_option("--standin", args->standin, "the stand-in's program");
  sub->add_option("--pull-after", args->pull_after,
                  "pull the cable after this many packets; it comes back by itself");
  sub->add_option("--history", args->history, "first fill the demo ledger with this many invented past jobs")
      ->check(CLI::Range(0, 100000));
  args->form.add_options(*sub);
  sub->footer("Opens nothing by itself; prints where the sheet is. Exit code 1 when a fault was found.");
  sub->callback([&app, &action, args] { action = [&app, args] { return run_demo(app, *args); }; });
}
}  // namespace hb::cli
