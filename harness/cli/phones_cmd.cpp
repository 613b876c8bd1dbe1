#include <fmt/format.h>

#include "app.hpp"
#include "harness/link/link.hpp"
#include "harness/phone/phone.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

constexpr const char* kUdevRule =
    "SUBSYSTEM==\"usb\", ENV{ID_USB_INTERFACES}==\"*:ff4201:*\", TAG+=\"uaccess\"";
constexpr const char* kUdevFile = "/etc/udev/rules.d/60-handback.rules";

int phones(const App& app) {
  auto all = link::list_usb();
  if (!all) return report(app, all.error());
  if (app.json)
    fmt::print("{}\n", json{{"usb_debug_interfaces", all->phones}, {"accessible", all->accessible}}.dump(2));
  else if (all->phones == 0)
    fmt::print(
        "No phone with USB debugging is plugged in. On the phone: Settings, Developer options, USB "
        "debugging.\n");
  else
    fmt::print("{} phone(s) with USB debugging, {} that this user may open.{}\n", all->phones,
               all->accessible, all->accessible < all->phones ? " See: handback setup" : "");
  return kPass;
}

int setup(const App& app, bool yes) {
  const bool there = fs::exists(kUdevFile);
  if (app.json) {
    fmt::print("{}\n", json{{"udev_rule", kUdevRule}, {"file", kUdevFile}, {"installed", there}}.dump(2));
    return kPass;
  }
  fmt::print(
      "For phones on USB, this udev rule lets the person at the desk open the debug interface:\n\n  {}\n\nin "
      "{} ({}).\n",
      kUdevRule, kUdevFile, there ? "it is there" : "it is not there");
  if (there || !yes) {
    if (!there) fmt::print("To write it: sudo handback setup --yes\n");
    return kPass;
  }
  if (auto w = write_file(kUdevFile, std::string(kUdevRule) + "\n"); !w) return report(app, w.error());
  fmt::print("Written. Make it count now: udevadm control --reload && udevadm trigger\n");
  return kPass;
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
  auto list = std::make_shared<bool>(false);
  sub->add_flag("--commands", *list,
                "the closed list of commands that can be sent to a phone, with what is kept of each answer");
  sub->callback(
      [&app, &action, list] { action = [&app, list] { return *list ? commands(app) : phones(app); }; });
}

void add_setup(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("setup", "what this machine needs so that phones on USB can be opened");
  auto yes = std::make_shared<bool>(false);
  sub->add_flag("--yes", *yes, "write the udev rule");
  sub->callback([&app, &action, yes] { action = [&app, yes] { return setup(app, *yes); }; });
}
}  // namespace hb::cli
