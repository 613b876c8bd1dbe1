#include "tools/standin/shell/run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "harness/base/text.hpp"
#include "tools/standin/gossip/gossip.hpp"
#include "tools/standin/shell/grep.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin {
namespace {
constexpr std::string_view kSupplies = "/sys/class/power_supply";
constexpr std::string_view kBusyLoop = "while :; do :; done";

bool starts(std::string_view s, std::string_view head) { return s.substr(0, head.size()) == head; }
}  // namespace

void CommandRun::gossip_out(gossip::Place p) {
  if (world().unit().gossips) output_->out(gossip::line(p));
}
void CommandRun::gossip_err(gossip::Place p) {
  if (world().unit().gossips) output_->err(gossip::line(p));
}

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
    gossip_out(gossip::Place::cell);
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
  gossip_err(gossip::Place::start_load);
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
  if (name == "getprop") {
    gossip_err(gossip::Place::getprop);
    return say(w.size() > 1 ? text::property(world(), w[1]) + "\n" : text::properties(world()));
  }
  if (name == "cd" || name == "cat" || name == "ls") return files(w);
  if (name == "dumpsys") return dumpsys(w);
  if (name == "cmd") return cmd(w);
  if (name == "svc" || name == "settings") return settings(w);
  if (name == "getevent") return getevent(w);
  if (name == "am") return am(w);
  if (name == "wm" && w.size() > 1 && w[1] == "size") {
    gossip_out(gossip::Place::display_size);
    return say(text::wm_size(world()));
  }
  if (name == "wm" && w.size() > 1 && w[1] == "density") return say("Physical density: 420\n");
  if (name == "grep") {
    const Found f = grep(w, input_);
    if (f.status == 2) complain("grep: bad pattern or option\n");
    print(f.text);
    return f.status;
  }
  if (name == "input" && w.size() > 2 && w[1] == "keyevent") {
    gossip_out(gossip::Place::wake);
    return 0;
  }
  if (name == "pkill" && w.size() > 2 && w[1] == "-f") {
    const bool any = world().workers() > 0;
    world().stop_load();
    gossip_err(gossip::Place::stop_load);
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
  if (full == "/proc/uptime") gossip_err(gossip::Place::uptime);
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

// ------------------------------------------------------------------------------------------- input events

int CommandRun::getevent(const Words& w) {
  if (w.size() == 2 && w[1] == "-lp") {
    print(text::input_devices(world()));
    gossip_out(gossip::Place::input_devices);
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
  gossip_err(gossip::Place::touch);
  world().listen(static_cast<int>(*node), sink);
  streams_ = true;
  return 0;
}
}  // namespace hb::standin
