// `dumpsys sensorservice` (AOSP SensorService.cpp, SensorList.cpp, RecentEventLogger.cpp).
#include <algorithm>

#include "detail/scan.hpp"
#include "harness/base/text.hpp"
#include "harness/phone/phone.hpp"

namespace hb::phone {
namespace {
using namespace detail;
constexpr std::size_t kSameType = 8;     ///< sensors of one type that are looked at
constexpr std::size_t kMostValues = 16;  ///< AOSP sensors_event_t holds 16 floats

/// "0x0000001b) NAME   | VENDOR | ver: 1 | type: android.sensor.hinge_angle(36) | perm: n/a | ...".
/// Names hold brackets and bars: the type is taken from the right. Returns "NAME   | VENDOR ".
std::optional<std::string_view> listed_as(std::string_view line, int type_number) {
  line = trim(line);
  const auto handle_end = line.find(") ");
  // "%#010x" prints the handle 0 without its 0x.
  if ((!line.starts_with("0x") && !line.starts_with("0000000000)")) || handle_end == std::string_view::npos ||
      handle_end > 18)
    return std::nullopt;
  const auto type_at = line.rfind("| type:");
  if (type_at == std::string_view::npos) return std::nullopt;
  auto type = line.substr(type_at + 7);
  type = trim(type.substr(0, type.find(" | ")));
  const auto open = type.rfind('(');
  if (open == std::string_view::npos || !type.ends_with(')')) return std::nullopt;
  const auto number = whole(type.substr(open + 1, type.size() - open - 2));
  if (!number || *number != type_number) return std::nullopt;
  const auto version_at = line.rfind("| ver:", type_at);
  if (version_at == std::string_view::npos || version_at < handle_end + 2) return std::nullopt;
  return trim(line.substr(handle_end + 2, version_at - handle_end - 1));
}

/// Whether the list entry is of the sensor called `name`: the name, its padding, a bar.
bool is_called(std::string_view entry, std::string_view name) {
  const auto rest = after(entry, name);
  if (!rest) return false;
  const auto bar = rest->find_first_not_of(' ');
  return bar != std::string_view::npos && bar > 0 && (*rest)[bar] == '|';
}

/// NAME of "NAME: last 10 events", or nullopt.
std::optional<std::string_view> block_name(std::string_view line) {
  const auto at = line.rfind(": last ");
  if (at == std::string_view::npos || at == 0) return std::nullopt;
  const auto tail = line.substr(at + 7);
  const auto blank = tail.find(' ');
  if (blank == std::string_view::npos || !whole(tail.substr(0, blank))) return std::nullopt;
  if (!after(tail.substr(blank), " event")) return std::nullopt;
  return line.substr(0, at);
}

struct Block {
  std::vector<SensorEvent> events;
  bool masked = false;
  std::size_t name_size = 0;
};

bool is_event(std::string_view line) {
  return !line.empty() && line[0] >= '0' && line[0] <= '9' && line.substr(0, 16).find("(ts=") != line.npos;
}

/// "1 (ts=5123.456789012, wall=14:03:22.117) 0.05, -0.11, 9.79, "
void take_event(std::string_view line, Block& block) {
  auto rest = line.substr(line.find("(ts=") + 4);
  const auto t = decimal(rest.substr(0, rest.find_first_of(",)")));
  const auto close = rest.find(')');
  if (!t || *t < 0 || *t > 1e10 || close == std::string_view::npos) return;
  rest = trim(rest.substr(close + 1));
  if (contains(rest, "[value") || contains(rest, "masked]")) {
    block.masked = true;
    return;
  }
  SensorEvent e{*t, {}};
  while (!rest.empty()) {
    const auto comma = rest.find(',');
    const auto v = decimal(trim(rest.substr(0, comma)));
    if (!v || e.values.size() == kMostValues) return;
    e.values.push_back(*v);
    rest = comma == std::string_view::npos ? std::string_view{} : trim(rest.substr(comma + 1));
  }
  if (!e.values.empty()) block.events.push_back(std::move(e));
}

void sort_by_time(std::vector<SensorEvent>& events) {
  std::stable_sort(events.begin(), events.end(),
                   [](const SensorEvent& a, const SensorEvent& b) { return a.t_s < b.t_s; });
  const auto same = [](const SensorEvent& a, const SensorEvent& b) { return a.t_s == b.t_s; };
  events.erase(std::unique(events.begin(), events.end(), same), events.end());
}

enum class Section { other, list, events };

Section section_after(std::string_view line, Section now) {
  if (line.starts_with("Sensor List:")) return Section::list;
  if (line.starts_with("Recent Sensor events:")) return Section::events;
  if (line.starts_with("Fusion States:") || line.starts_with("Active sensors:")) return Section::other;
  return now;
}

/// The entry that owns a block header: of all that fit the one is taken whose block name is longest, since
/// a shorter name may be the start of a longer one.
Block* owner_of(std::string_view name, const std::vector<std::string_view>& entries,
                std::vector<Block>& blocks) {
  for (std::size_t i = 0; i < entries.size(); ++i) {
    if (!is_called(entries[i], name) || name.size() <= blocks[i].name_size) continue;
    blocks[i] = Block{{}, false, name.size()};
    return &blocks[i];
  }
  return nullptr;
}
}  // namespace

Result<SensorReading> parse_sensor_events(std::string_view text, int type_number) {
  std::vector<std::string_view> entries;
  std::vector<Block> blocks(kSameType);
  Block* current = nullptr;
  bool known = false;
  Section section = Section::other;
  LineCursor lines(text);
  while (const auto line = lines.next()) {
    if (trim(*line) == "No Sensors on the device") known = true;
    if (const auto next = section_after(*line, section); next != section) {
      section = next;
      current = nullptr;
      known = known || section == Section::list;
      continue;
    }
    if (section == Section::list && entries.size() < kSameType) {
      if (const auto entry = listed_as(*line, type_number)) entries.push_back(*entry);
    } else if (section == Section::events) {
      const auto body = trim(*line);
      // Anything but an event ends the block: an event is never given to a sensor that may not own it.
      if (is_event(body) && !contains(body, ": last ")) {
        if (current) take_event(body, *current);
      } else if (!body.empty()) {
        const auto name = block_name(body);
        current = name ? owner_of(*name, entries, blocks) : nullptr;
      }
    }
  }
  if (!known) return nothing_found("sensors", text);
  SensorReading r;
  r.listed = !entries.empty();
  for (auto& b : blocks) {
    if (b.events.empty() && !b.masked) continue;
    sort_by_time(b.events);
    r.masked = b.masked;
    r.events = std::move(b.events);
    break;
  }
  return r;
}
}  // namespace hb::phone
