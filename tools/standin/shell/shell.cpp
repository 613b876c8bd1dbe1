#include "tools/standin/shell/shell.hpp"

#include "tools/standin/shell/run.hpp"
#include "tools/standin/shell/texts.hpp"

namespace hb::standin {
namespace {
constexpr std::string_view kSupplies = "/sys/class/power_supply/";
constexpr std::string_view kSpeed = "/sys/class/udc/velm8-usb.0/current_speed";
constexpr std::size_t kScratchLimit = 64u << 20;

bool is_scratch(const std::string& path) {
  return path.rfind("/data/local/tmp/", 0) == 0 || path.rfind("/sdcard/Download/", 0) == 0;
}
}  // namespace

std::map<std::string, std::string> Shell::banner() const {
  const ModelSpec& m = *world_.unit().model;
  std::map<std::string, std::string> all{
      {"ro.product.name", m.product}, {"ro.product.model", m.model}, {"ro.product.device", m.device}};
  if (world_.unit().gossips)
    for (std::size_t k = 0; k < gossip::kKinds; ++k)
      all["persist." + std::string(gossip::kind_name(k))] = gossip::text(gossip::Place::banner, k);
  return all;
}

void Shell::shell(std::string command, bool pty, std::shared_ptr<Output> output) {
  time_.before_command();
  CommandRun(*this, pty, std::move(output)).run(command);
}

std::optional<std::string> Shell::read_file(const std::string& path) {
  if (path == "/proc/uptime") return text::proc_uptime(world_);
  if (path.rfind(kSupplies, 0) == 0) {
    if (world_.unit().faults.has(Fault::sysfs_denied)) return std::nullopt;
    return text::power_supply(world_, std::string_view(path).substr(kSupplies.size()));
  }
  if (path == kSpeed)
    return world_.unit().faults.has(Fault::sysfs_denied) ? std::nullopt
                                                         : std::optional(text::link_speed(world_));
  const auto it = scratch_.find(path);
  return it == scratch_.end() ? std::nullopt : std::optional<std::string>(*it->second);
}

std::shared_ptr<const std::string> Shell::shared_file(const std::string& path) {
  const auto it = scratch_.find(path);
  return it == scratch_.end() ? Services::shared_file(path) : it->second;
}

bool Shell::write_file(const std::string& path, std::string content) {
  std::size_t used = content.size();
  for (const auto& [name, text] : scratch_)
    if (name != path) used += text->size();
  if (!is_scratch(path) || used > kScratchLimit) return false;
  scratch_[path] = std::make_shared<const std::string>(std::move(content));
  return true;
}
}  // namespace hb::standin
