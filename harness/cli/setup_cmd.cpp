#include <fmt/format.h>
#include <unistd.h>

#include <cstdlib>
#include <iostream>

#include "app.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

constexpr const char* kUdevRule =
    "SUBSYSTEM==\"usb\", ENV{ID_USB_INTERFACES}==\"*:ff4201:*\", TAG+=\"uaccess\"";
constexpr const char* kUdevName = "60-handback.rules";  // before 73-seat-late.rules, which reads the tag

struct SetupArgs {
  bool yes = false;
  std::string folder = "/etc/udev/rules.d";
  [[nodiscard]] fs::path file() const { return fs::path(folder) / kUdevName; }
};

bool installed(const SetupArgs& a) {
  const auto text = read_file(a.file(), 4096);
  return text && text->find(kUdevRule) != std::string::npos;
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
  const bool there = installed(a);
  if (app.json && !a.yes) {
    fmt::print("{}\n",
               json{{"udev_rule", kUdevRule}, {"file", a.file().string()}, {"installed", there}}.dump(2));
    return kPass;
  }
  if (!app.json)
    fmt::print(
        "For phones on USB, this udev rule lets the person at the desk open the debug interface:\n\n  "
        "{}\n\nin "
        "{} ({}).\n",
        kUdevRule, a.file().string(), there ? "it is there" : "it is not there");
  if (!there) {
    if (::access(a.folder.c_str(), W_OK) != 0)
      return report(app, Error{ErrorCode::refused, "this user may not write the rule", a.folder,
                               "As root: sudo " + app.self + " setup --yes"});
    if (!a.yes && !person_agrees()) {
      fmt::print("Nothing was written.\n");
      return kPass;
    }
    if (auto w = write_file(a.file(), std::string(kUdevRule) + "\n"); !w) return report(app, w.error());
    if (a.folder == SetupArgs{}.folder) tell_udev();
  }
  if (app.json)
    fmt::print("{}\n",
               json{{"udev_rule", kUdevRule}, {"file", a.file().string()}, {"installed", true}}.dump(2));
  else if (!there)
    fmt::print("Written. See: handback phones\n");
  return kPass;
}
}  // namespace

void add_setup(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("setup", "what this machine needs so that phones on USB can be opened");
  auto args = std::make_shared<SetupArgs>();
  sub->add_flag("--yes", args->yes, "write the udev rule without asking");
  sub->add_option("--rules", args->folder, "folder of udev's rules")->capture_default_str()->type_name("DIR");
  sub->callback([&app, &action, args] { action = [&app, args] { return setup(app, *args); }; });
}
}  // namespace hb::cli
