#include <fmt/chrono.h>
#include <fmt/format.h>

#include <cstdio>

#include "app.hpp"
#include "harness/phone/phone.hpp"
#include "live_phones.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

json as_json(const LivePhone& p) {
  return json{{"port", p.place.port},
              {"state", std::string(name(p.state))},
              {"model", p.model.empty() ? json() : json(p.model)},
              {"tail", p.tail.empty() ? json() : json(p.tail)}};
}

std::string as_line(const LivePhone& p) {
  return fmt::format("USB {:<8} {:<24} {:<6} {}", p.place.port,
                     p.model.empty() ? (p.state == PhoneState::ready ? "no profile fits" : "") : p.model,
                     p.tail.empty() ? "" : ".." + p.tail, advice(p.state));
}

Result<link::BenchRsaKey> link_key(const Home& home) {
  if (const auto made = home.prepare(); !made) return made.error();
  return link::BenchRsaKey::load_or_make(home.link_key());
}

net::awaitable<int> list(const App& app, Home home, link::BenchRsaKey key) {
  const auto all = co_await phones_now(std::move(home), std::move(key));
  if (!all) co_return report(app, all.error());
  if (app.json) {
    auto out = json::array();
    for (const auto& p : *all) out.push_back(as_json(p));
    fmt::print("{}\n", out.dump(2));
    co_return kPass;
  }
  for (const auto& p : *all) fmt::print("{}\n", as_line(p));
  if (all->empty())
    fmt::print(
        "No phone with USB debugging is plugged in. On the phone: Settings, Developer options, USB "
        "debugging.\n");
  co_return kPass;
}

net::awaitable<int> watch(const App& app, Home home, link::BenchRsaKey key) {
  if (!app.json && !app.quiet) fmt::print("Phones on USB, as they come and go; Ctrl-C ends this.\n");
  std::fflush(stdout);
  const std::function<void(const LivePhone&)> told = [as_lines_of_json = app.json](const LivePhone& p) {
    if (as_lines_of_json)
      fmt::print("{}\n", as_json(p).dump());
    else
      fmt::print("{:%H:%M:%S}  {}\n", fmt::localtime(std::time(nullptr)), as_line(p));
    std::fflush(stdout);
  };
  const auto ended = co_await watch_phones(std::move(home), std::move(key), told);
  co_return ended || ended.error().code == ErrorCode::cancelled ? kPass : report(app, ended.error());
}

int phones(const App& app, bool watching) {
  auto key = link_key(app.home());
  if (!key) return report(app, key.error());
  return run_async(app, [&app, watching, key = *key]() -> net::awaitable<int> {
    return watching ? watch(app, app.home(), key) : list(app, app.home(), key);
  });
}

int commands(const App& app) {
  auto out = json::array();
  for (const auto& c : phone::command_list()) {
    if (app.json)
      out.push_back({{"id", c.id.view()},
                     {"command", c.text.view()},
                     {"reads", c.reads.view()},
                     {"versions", c.versions.view()},
                     {"personal", c.personal.view()},
                     {"kept", c.kept.view()}});
    else
      fmt::print("{}\n  sends     {}\n  reads     {}\n  personal  {}\n  kept      {}\n", c.id.view(),
                 c.text.view(), c.reads.view(), c.personal.view(), c.kept.view());
  }
  if (app.json) fmt::print("{}\n", out.dump(2));
  return kPass;
}
}  // namespace

void add_phones(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("phones", "phones that are plugged in, and what may be sent to them");
  auto list_commands = std::make_shared<bool>(false);
  auto watching = std::make_shared<bool>(false);
  auto* commands_flag = sub->add_flag(
      "--commands", *list_commands,
      "the closed list of commands that can be sent to a phone, with what is kept of each answer");
  sub->add_flag("--watch", *watching,
                "go on, and say when one comes, changes or goes (--json: one line each)")
      ->excludes(commands_flag);
  sub->callback([&app, &action, list_commands, watching] {
    action = [&app, list_commands, watching] {
      return *list_commands ? commands(app) : phones(app, *watching);
    };
  });
}
}  // namespace hb::cli
