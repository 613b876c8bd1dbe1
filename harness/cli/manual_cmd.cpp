#include "harness/manual/manual.hpp"

#include <fmt/format.h>

#include "app.hpp"
#include "version.hpp"

namespace hb::cli {
namespace {
manual::Facts facts() {
  manual::Facts f;
  f.version = HB_VERSION;
  f.date = HB_RELEASE_DATE;
  f.sections = {
      {"Environment",
       {{"HANDBACK_HOME", "the bench's folder, if --home does not name one"},
        {"HANDBACK_LEDGER", "the ledger, if --ledger does not name one"},
        {"XDG_DATA_HOME", "holds the bench's folder as handback/, if neither names one"}}},
      {"Files",
       {{"~/.local/share/handback/",
         "the bench's folder: keys, ledger, journals of runs, sheets, own profiles"},
        {"bench.toml", "in it: shop, name of the bench, contact, as printed on sheets"},
        {"keys/", "in it: what cannot be made again; back it up"},
        {"ledger.sqlite", "in it: the append-only list of jobs and runs"},
        {"../share/handback/profiles/", "beside the program's folder: the profiles that it came with"}}}};
  return f;
}

const manual::Command* named(const manual::Command& c, const std::string& name) {
  for (const auto& sub : c.commands)
    if (sub.path.back() == name) return &sub;
  return nullptr;
}

int page(const App& app, const manual::Command& program, const std::string& name) {
  const auto* shown = name.empty() ? &program : named(program, name);
  if (shown == nullptr)
    return report(app, Error{ErrorCode::not_found, "there is no such command", name, "See: handback --help"});
  fmt::print("{}", manual::man_page(program, *shown, facts()));
  return kPass;
}

int completion(const manual::Command& program, const std::string& shell) {
  fmt::print("{}", shell == "bash"  ? manual::bash_completion(program)
                   : shell == "zsh" ? manual::zsh_completion(program)
                                    : manual::fish_completion(program));
  return kPass;
}
}  // namespace

void add_manual(CLI::App& cli, App& app, Action& action) {
  auto* m = cli.add_subcommand("manual", "print a manual page: handback manual run | man -l -");
  auto name = std::make_shared<std::string>();
  auto folder = std::make_shared<std::string>();
  m->add_option("COMMAND", *name, "the command's page (default: the program's)");
  m->add_option("--write", *folder,
                "write all pages and completions into this folder, laid out as /usr/share")
      ->type_name("DIR");
  m->callback([&cli, &app, &action, name, folder] {
    action = [&cli, &app, name, folder] {
      const auto program = manual::read(cli);
      if (folder->empty()) return page(app, program, *name);
      const auto done = manual::write_all(program, facts(), *folder);
      return done ? static_cast<int>(kPass) : report(app, done.error());
    };
  });
  auto* c = cli.add_subcommand("completion", "print a shell's completions for this program");
  auto shell = std::make_shared<std::string>();
  c->add_option("SHELL", *shell, "bash, zsh or fish")
      ->required()
      ->check(CLI::IsMember({"bash", "zsh", "fish"}));
  c->callback(
      [&cli, &action, shell] { action = [&cli, shell] { return completion(manual::read(cli), *shell); }; });
}
}  // namespace hb::cli
