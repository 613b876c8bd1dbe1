#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <iostream>
#include <optional>

#include "app.hpp"
#include "udev_rule.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

constexpr const char* kUdevName = "60-handback.rules";

/// The rule itself: the line that is no comment.
std::string udev_rule() {
  std::string_view text = kUdevRules;
  while (text.starts_with('#')) text.remove_prefix(std::min(text.find('\n'), text.size() - 1) + 1);
  return std::string(text.substr(0, text.find('\n')));
}

struct SetupArgs {
  bool yes = false;
  std::string folder;  ///< empty: where udev reads
  [[nodiscard]] fs::path file() const {
    return fs::path(folder.empty() ? "/etc/udev/rules.d" : folder) / kUdevName;
  }
};

/// The file that holds the rule, or nothing. A package puts it into /usr/lib; /etc goes before it, as udev(7)
/// says: a file there replaces one of the same name.
std::optional<fs::path> installed(const SetupArgs& a) {
  std::vector<fs::path> files{a.file()};
  if (a.folder.empty())
    for (const char* f :
         {"/run/udev/rules.d", "/usr/local/lib/udev/rules.d", "/usr/lib/udev/rules.d", "/lib/udev/rules.d"})
      files.push_back(fs::path(f) / kUdevName);
  for (const auto& f : files) {
    std::error_code ec;
    if (!fs::exists(f, ec)) continue;
    const auto text = read_file(f, 4096);
    if (text && text->find(udev_rule()) != std::string::npos) return f;
    return std::nullopt;
  }
  return std::nullopt;
}

bool person_agrees() {
  fmt::print("Write it now? [y/N] ");
  std::fflush(stdout);
  std::string answer;
  std::getline(std::cin, answer);
  return answer == "y" || answer == "Y" || answer == "yes";
}

/// udev reads the rule; phones that are plugged in get it without being plugged in again. Nobody to tell on a
/// machine without udev.
void tell_udev() {
  if (std::system("udevadm control --reload >/dev/null 2>&1 && udevadm trigger --subsystem-match=usb "
                  ">/dev/null 2>&1") != 0)
    fmt::print("udev could not be told: plug the phone in again after the next start of this computer.\n");
}

int setup(const App& app, const SetupArgs& a) {
  const auto there = installed(a);
  const auto rule = udev_rule();
  const auto file = there.value_or(a.file());
  if (app.json && !a.yes) {
    fmt::print("{}\n",
               json{{"udev_rule", rule}, {"file", file.string()}, {"installed", there.has_value()}}.dump(2));
    return kPass;
  }
  if (!app.json)
    fmt::print(
        "For phones on USB, this udev rule lets the person at the desk open the debug interface:\n\n  "
        "{}\n\nin "
        "{} ({}).\n",
        rule, file.string(), there ? "it is there" : "it is not there");
  if (!there) {
    const auto folder = file.parent_path();
    if (::access(folder.c_str(), W_OK) != 0)
      return report(app, Error{ErrorCode::refused, "this user may not write the rule", folder.string(),
                               "As root: sudo " + app.self + " setup --yes"});
    if (!a.yes && !person_agrees()) {
      fmt::print("Nothing was written.\n");
      return kPass;
    }
    if (auto w = write_file(file, kUdevRules, 0644); !w) return report(app, w.error());
    if (a.folder.empty()) tell_udev();
  }
  if (app.json)
    fmt::print("{}\n", json{{"udev_rule", rule}, {"file", file.string()}, {"installed", true}}.dump(2));
  else if (!there)
    fmt::print("Written. See: handback phones\n");
  return kPass;
}
}  // namespace

void add_setup(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("setup", "what this machine needs so that phones on USB can be opened");
  auto args = std::make_shared<SetupArgs>();
  sub->add_flag("--yes", args->yes, "write the udev rule without asking");
  sub->add_option("--rules", args->folder,
                  "folder of udev's rules (default: those that udev reads; written to /etc)")
      ->type_name("DIR");
  sub->callback([&app, &action, args] { action = [&app, args] { return setup(app, *args); }; });
}
}  // namespace hb::cli
