#include "tools/standin/shell/run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "harness/base/text.hpp"
#include "tools/standin/shell/grep.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin {
namespace {
constexpr std::string_view kSupplies = "/sys/class/power_supply";
constexpr std::string_view kBusyLoop = "while :; do :; done";

bool starts(std::string_view s, std::string_view head) { return s.substr(0, head.size()) == head; }
}  // namespace

void CommandRun::run(std::string_view command) {
  const Steps steps = steps_of(command);
  if (!steps.ok) {
    output_->err("sh: syntax error: unexpected end\n");
    return output_->exit(1);
  }
  int status = 0;
  bool skipped = false;
  for (std::size_t i = 0; i < steps.all.size(); ++i) {
    const Step& s = steps.all[i];
    skipped = s.join == Join::piped
                  ? skipped
                  : (s.join == Join::if_ok && status != 0) || (s.join == Join::if_failed && status == 0);
    if (skipped) continue;
    input_ = std::exchange(pipe_, {});
    into_pipe_ = i + 1 < steps.all.size() && steps.all[i + 1].join == Join::piped;
    out_hidden_ = s.out_hidden, err_hidden_ = s.err_hidden;
    status = step(s);
    if (streams_) return;
    if (ended_) break;
  }
  output_->exit(status);
}

int CommandRun::step(const Step& s) {
  if (!s.loop_name.empty()) return loop(s);
  if (s.words.empty()) return 0;
  if (s.in_background && s.words[0] == "timeout") return busy(s.words, 1);
  return simple(s.words);
}

int CommandRun::loop(const Step& s) {
  const std::string attribute = fmt::format("echo \"${0}=$(cat ${0} 2>/dev/null)\"", s.loop_name);
  if (s.raw == attribute) {
    std::string out;
    err_hidden_ = true;
    for (const auto& v : s.loop_values) {
      std::string text;
      if (cat(v, text) != 0) text.clear();
      out += fmt::format("{}={}\n", v, trim(text));
    }
    print(out);
    return 0;
  }
  if (s.in_background && !s.words.empty() && s.words[0] == "timeout")
    return busy(s.words, s.loop_values.size());
  complain("sh: syntax error: unexpected 'do'\n");
  return 1;
}

int CommandRun::busy(const Words& w, std::size_t count) {
  const auto seconds = w.size() > 1 ? to_double(w[1]) : std::nullopt;
  if (w.size() != 5 || !seconds || w[2] != "sh" || w[3] != "-c" || w[4] != kBusyLoop) {
    complain("timeout: not permitted\n");
    return 125;
  }
  if (*seconds > 0 && *seconds <= 3600 && count > 0)
    world().start_load(static_cast<int>(std::min<std::size_t>(count, 8)), *seconds);
  return 0;
}

int CommandRun::simple(const Words& w) {
  const std::string& name = w[0];
  const auto say = [this](std::string_view text) {
    print(text);
    return 0;
  };
  if (name == "true" || name == ":") return 0;
  if (name == "false") return 1;
  if (name == "exit") {
    ended_ = true;
    return w.size() > 1 ? static_cast<int>(to_int(w[1]).value_or(2) & 255) : 0;
  }
  if (name == "echo") {
    std::string line;
    for (std::size_t i = 1; i < w.size(); ++i) line += (i > 1 ? " " : "") + w[i];
    return say(line + "\n");
  }
  if (name == "id")
    return say(
        "uid=2000(shell) gid=2000(shell) groups=2000(shell),1004(input),1007(log),3003(inet) "
        "context=u:r:shell:s0\n");
  if (name == "pwd") return say(folder_ + "\n");
  if (name == "getprop")
    return say(w.size() > 1 ? text::property(world(), w[1]) + "\n" : text::properties(world()));
  if (name == "cd" || name == "cat" || name == "ls") return files(w);
  if (name == "dumpsys") return dumpsys(w);
  if (name == "cmd") return cmd(w);
  if (name == "svc" || name == "settings") return settings(w);
  if (name == "getevent") return getevent(w);
  if (name == "am") return am(w);
  if (name == "wm" && w.size() > 1 && w[1] == "size") return say(text::wm_size(world()));
  if (name == "wm" && w.size() > 1 && w[1] == "density") return say("Physical density: 420\n");
  if (name == "grep") {
    const Found f = grep(w, input_);
    if (f.status == 2) complain("grep: bad pattern or option\n");
    print(f.text);
    return f.status;
  }
  if (name == "input" && w.size() > 2 && w[1] == "keyevent") return 0;
  if (name == "pkill" && w.size() > 2 && w[1] == "-f") {
    const bool any = world().workers() > 0;
    world().stop_load();
    return any ? 0 : 1;
  }
  return unknown(w);
}

int CommandRun::unknown(const Words& w) {
  complain(fmt::format("sh: {}: inaccessible or not found\n", w[0]));
  return 127;
}

// ------------------------------------------------------------------------------------------- files

std::string CommandRun::absolute(const std::string& path) const {
  if (starts(path, "/")) return path;
  return folder_ == "/" ? "/" + path : folder_ + "/" + path;
}

int CommandRun::cat(const std::string& path, std::string& into) {
  const std::string full = absolute(path);
  if (starts(full, kSupplies) && world().unit().faults.has(Fault::sysfs_denied)) {
    complain(fmt::format("cat: {}: Permission denied\n", path));
    return 1;
  }
  auto text = shell_.read_file(full);
  if (!text) {
    complain(fmt::format("cat: {}: No such file or directory\n", path));
    return 1;
  }
  into = std::move(*text);
  return 0;
}

int CommandRun::files(const Words& w) {
  const std::string path = w.size() > 1 ? w.back() : folder_;
  std::string full = absolute(path);
  while (full.size() > 1 && full.back() == '/') full.pop_back();
  const bool in_supplies = full.size() > kSupplies.size() && starts(full, kSupplies);
  if (w[0] == "cat") {
    int status = 0;
    for (std::size_t i = 1; i < w.size(); ++i) {
      std::string text;
      if (cat(w[i], text) != 0) status = 1;
      print(text);
    }
    return status;
  }
  if (w[0] == "cd") {
    if (in_supplies && world().unit().faults.has(Fault::sysfs_denied)) {
      complain(fmt::format("sh: cd: {}: Permission denied\n", path));
      return 2;
    }
    const bool known =
        full == "/" || full == "/sdcard" || full == "/data/local/tmp" || full == kSupplies ||
        (in_supplies && text::power_supply(world(), full.substr(kSupplies.size() + 1) + "/type"));
    if (!known) {
      complain(fmt::format("sh: cd: {}: No such file or directory\n", path));
      return 2;
    }
    folder_ = full;
    return 0;
  }
  if (full == "/") {
    print("apex\nbin\ndata\ndev\netc\nproc\nproduct\nsdcard\nsys\nsystem\nvendor\n");
  } else if (full == kSupplies) {
    print(text::power_supplies(world()));
  } else {
    complain(fmt::format("ls: {}: No such file or directory\n", path));
    return 1;
  }
  return 0;
}

// ------------------------------------------------------------------------------------------- services

int CommandRun::dumpsys(const Words& w) {
  const World& phone = world();
  const std::string service = w.size() > 1 ? w[1] : "-l";
  std::string out;
  if (service == "battery")
    out = text::battery(phone);
  else if (service == "sensorservice")
    out = text::sensors(phone);
  else if (service == "device_state")
    out = text::device_state(phone);
  else if (service == "thermalservice")
    out = text::thermal(phone);
  else if (service == "media.camera")
    out = text::cameras(phone);
  else if (service == "display")
    out = text::display(phone);
  else if (service == "input")
    out = text::input_dump(phone);
  else if (service == "usb")
    out = text::usb(phone);
  else if (service == "notification")
    out = text::notifications(phone);
  else if (service == "wifi")
    out = text::wifi(phone);
  else if (service == "bluetooth_manager")
    out = text::bluetooth(phone);
  else if (service == "account")
    out = text::accounts(phone);
  else if (service == "-l")
    out =
        "Currently running services:\n  account\n  battery\n  bluetooth_manager\n  device_state\n  display\n "
        " input\n  "
        "media.camera\n"
        "  notification\n  sensorservice\n  thermalservice\n  usb\n  wifi\n";
  else
    complain(fmt::format("Can't find service: {}\n", service));
  print(out);
  return 0;
}

int CommandRun::cmd(const Words& w) {
  if (w.size() >= 3 && w[1] == "device_state") {
    if (w[2] == "state" && w.size() > 3) {
      complain("Error: Access denied. CONTROL_DEVICE_STATE is required\n");
      return 255;
    }
    const auto out = text::cmd_device_state(world(), w[2]);
    print(out);
    return out.empty() ? 255 : 0;
  }
  if (w.size() >= 4 && w[1] == "battery" && w[2] == "get") {
    const auto out = text::battery_get(world(), w.back());
    print(out.empty() ? "Unknown get option: " + w.back() + "\n" : out);
    return 0;
  }
  if (w.size() >= 5 && w[1] == "vibrator_manager" && w[2] == "synced") {
    const auto at = std::find(w.begin(), w.end(), "oneshot");
    const auto ms = at != w.end() && at + 1 != w.end() ? to_int(*(at + 1)) : std::nullopt;
    if (!ms || *ms < 1 || *ms > 60'000) {
      complain("Error: no valid duration\n");
      return 255;
    }
    world().vibrate(static_cast<double>(*ms) / 1000);
    return 0;
  }
  if (w.size() >= 3 && w[1] == "wifi" && w[2] == "status") {
    print(text::wifi_status(world()));
    return 0;
  }
  complain(fmt::format("cmd: Can't find service: {}\n", w.size() > 1 ? w[1] : std::string()));
  return 20;
}

int CommandRun::settings(const Words& w) {
  if (w[0] == "svc" && w.size() == 4 && w[1] == "power" && w[2] == "stayon") {
    static constexpr std::array<std::pair<std::string_view, int>, 6> modes{
        {{"false", 0}, {"ac", 1}, {"usb", 2}, {"wireless", 4}, {"dock", 8}, {"true", 15}}};
    for (const auto& [mode, bits] : modes)
      if (w[3] == mode) shell_.stay_on_ = bits;
    return 0;
  }
  const bool stay_on = w.size() > 3 && w[2] == "global" && w[3] == "stay_on_while_plugged_in";
  if (w[0] == "settings" && w.size() == 4 && w[1] == "get") {
    const bool radio = w[3] == "wifi_on" || w[3] == "bluetooth_on";
    print(stay_on ? fmt::format("{}\n", shell_.stay_on_) : radio ? "1\n" : "null\n");
    return 0;
  }
  if (w[0] == "settings" && w.size() == 5 && w[1] == "put" && stay_on) {
    shell_.stay_on_ = static_cast<int>(to_int(w[4]).value_or(0) & 15);
    return 0;
  }
  complain("usage: settings get|put NAMESPACE KEY [VALUE]\n");
  return 255;
}

int CommandRun::am(const Words& w) {
  const auto at = std::find(w.begin(), w.end(), "-d");
  if (w.size() < 2 || w[1] != "start" || at == w.end() || at + 1 == w.end()) {
    complain("Error: No intent supplied\n");
    return 1;
  }
  const std::string& url = *(at + 1);
  const auto host_end = url.find('/', url.find("//") + 2);
  print(fmt::format("Starting: Intent {{ act=android.intent.action.VIEW dat={}/... }}\n",
                    url.substr(0, host_end)));
  if (starts(url, "http://127.0.0.1:") && shell_.on_open_url)
    shell_.on_open_url(url);
  else
    complain(
        "Error: Activity not started, unable to resolve Intent { act=android.intent.action.VIEW "
        "flg=0x10000000 }\n");
  return 0;
}

// ------------------------------------------------------------------------------------------- input events

int CommandRun::getevent(const Words& w) {
  if (w.size() == 2 && w[1] == "-lp") {
    print(text::input_devices(world()));
    return 0;
  }
  constexpr std::string_view node_head = "/dev/input/event";
  const bool live = w.size() == 3 && (w[1] == "-lt" || w[1] == "-t") && starts(w[2], node_head);
  const auto node = live ? to_int(std::string_view(w[2]).substr(node_head.size())) : std::nullopt;
  const auto& panels = world().unit().model->panels;
  const bool known = node && (*node == 0 || std::any_of(panels.begin(), panels.end(),
                                                        [&](const auto& p) { return p.node == *node; }));
  if (!known) {
    complain(live ? fmt::format("could not open {}, No such file or directory\n", w[2])
                  : std::string("usage: getevent [-lp | -t NODE | -lt NODE]\n"));
    return 1;
  }
  // The tool's own stdout is a full 4096-byte buffer unless it is a terminal.
  auto buffer = std::make_shared<std::string>();
  const auto sink = [output = output_, pty = pty_, phone = &world(), labels = w[1] == "-lt",
                     buffer](std::span<const RawEvent> events) {
    if (output->gone()) return false;
    for (const auto& e : events) *buffer += text::input_event(*phone, e, labels);
    const auto ready = pty ? buffer->size() : buffer->size() / 4096 * 4096;
    output->out(std::string_view(*buffer).substr(0, ready));
    buffer->erase(0, ready);
    return true;
  };
  world().listen(static_cast<int>(*node), sink);
  streams_ = true;
  return 0;
}
}  // namespace hb::standin
