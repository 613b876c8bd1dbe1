#include <fmt/format.h>

#include "app.hpp"
#include "checks/registry.hpp"
#include "choose_profile.hpp"
#include "profiles/profiles.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

int list(const App& app) {
  const auto known = checks::all_checks();
  auto out = json::array();
  int bad = 0;
  for (const auto& f : profiles::find_files(profile_folders(app.home()))) {
    const auto l = profiles::load(f, known);
    if (!l.profile) {
      ++bad;
      fmt::print(stderr, "handback: {} has {} problem(s): handback profile check {}\n", f.string(),
                 l.problems.size(), f.string());
      continue;
    }
    if (!app.json)
      fmt::print("{:<24} {:<10} {:<8} {}\n", l.profile->name.str(), l.profile->device, l.profile->model,
                 f.string());
    out.push_back({{"name", l.profile->name.str()},
                   {"device", l.profile->device},
                   {"model", l.profile->model},
                   {"file", f.string()},
                   {"checks", l.profile->checks}});
  }
  if (app.json) fmt::print("{}\n", out.dump(2));
  return bad == 0 ? kPass : kUsage;
}

int check(const App& app, const std::string& file) {
  const auto known = checks::all_checks();
  const auto l = profiles::load(file, known);
  if (app.json) {
    auto problems = json::array();
    for (const auto& p : l.problems)
      problems.push_back({{"what", p.what}, {"where", p.where}, {"expected", p.next}});
    fmt::print("{}\n", json{{"file", file}, {"good", l.profile.has_value()}, {"problems", problems}}.dump(2));
  }
  for (const auto& p : l.problems) fmt::print(stderr, "{}\n", p.message());
  if (!l.profile) return kUsage;
  if (!app.json)
    fmt::print("{}: good. {} checks, {} limits.\n", l.profile->name.str(), l.profile->checks.size(),
               l.profile->limits.size());
  return kPass;
}

int make(const App& app, const std::string& file) {
  if (fs::exists(file))
    return report(app, {ErrorCode::invalid_argument, "the file is there already", file,
                        "Choose another name, or remove it first."});
  if (auto w = write_file(file, profiles::skeleton(checks::all_checks())); !w) return report(app, w.error());
  if (app.json)
    fmt::print("{}\n", json{{"file", file}}.dump());
  else
    fmt::print("Wrote {}. Fill it in, then: handback profile check {}\n", file, file);
  return kPass;
}
int print_schema(const App& app, const std::string& file) {
  const auto text = profiles::schema(checks::all_checks()).dump(2) + "\n";
  if (file.empty()) {
    fmt::print("{}", text);
    return kPass;
  }
  if (auto w = write_file(file, text); !w) return report(app, w.error());
  return kPass;
}
}  // namespace

std::vector<fs::path> profile_folders(const Home& home) {
  return {home.profiles(), profiles::shipped_folder()};
}

void add_profile(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("profile", "the models that this bench knows");
  sub->require_subcommand(1);
  auto file = std::make_shared<std::string>();
  sub->add_subcommand("list", "name every profile")->callback([&] { action = [&] { return list(app); }; });
  auto* c = sub->add_subcommand("check", "name every mistake in a profile, by file, line and key");
  c->add_option("FILE", *file, "profile")->required();
  c->callback([&app, &action, file] { action = [&app, file] { return check(app, *file); }; });
  auto* n = sub->add_subcommand("new", "write a skeleton for a new model");
  n->add_option("FILE", *file, "where to write it")->required();
  n->callback([&app, &action, file] { action = [&app, file] { return make(app, *file); }; });
  auto* s = sub->add_subcommand("schema", "the profile format as a JSON Schema, for an editor");
  s->add_option("--out", *file, "write it to this file")->type_name("FILE");
  s->callback([&app, &action, file] { action = [&app, file] { return print_schema(app, *file); }; });
}
}  // namespace hb::cli
