// `getevent -lt DEVICE` (AOSP toolbox getevent.c; numbers: Linux include/uapi/linux/input-event-codes.h).
#include <array>
#include <bit>
#include <cstring>
#include <optional>

#include "detail/scan.hpp"
#include "harness/phone/phone.hpp"

namespace hb::phone {
namespace {
using namespace detail;

constexpr std::uint16_t kSyn = 0, kKey = 1, kRel = 2, kAbs = 3, kMsc = 4, kSw = 5;
struct Label {
  std::string_view name;
  std::uint16_t number;
};
constexpr std::array<Label, 6> kTypes{{{"EV_ABS", kAbs},
                                       {"EV_SYN", kSyn},
                                       {"EV_KEY", kKey},
                                       {"EV_MSC", kMsc},
                                       {"EV_SW", kSw},
                                       {"EV_REL", kRel}}};
constexpr std::array<Label, 4> kSynCodes{
    {{"SYN_REPORT", 0}, {"SYN_CONFIG", 1}, {"SYN_MT_REPORT", 2}, {"SYN_DROPPED", 3}}};
// Most frequent first.
constexpr std::array<Label, 18> kAbsCodes{{{"ABS_MT_POSITION_X", 0x35},
                                           {"ABS_MT_POSITION_Y", 0x36},
                                           {"ABS_MT_SLOT", 0x2f},
                                           {"ABS_MT_TRACKING_ID", 0x39},
                                           {"ABS_MT_PRESSURE", 0x3a},
                                           {"ABS_MT_TOUCH_MAJOR", 0x30},
                                           {"ABS_MT_TOUCH_MINOR", 0x31},
                                           {"ABS_MT_WIDTH_MAJOR", 0x32},
                                           {"ABS_MT_WIDTH_MINOR", 0x33},
                                           {"ABS_MT_ORIENTATION", 0x34},
                                           {"ABS_MT_TOOL_TYPE", 0x37},
                                           {"ABS_MT_BLOB_ID", 0x38},
                                           {"ABS_MT_DISTANCE", 0x3b},
                                           {"ABS_MT_TOOL_X", 0x3c},
                                           {"ABS_MT_TOOL_Y", 0x3d},
                                           {"ABS_X", 0x00},
                                           {"ABS_Y", 0x01},
                                           {"ABS_PRESSURE", 0x18}}};
constexpr std::array<Label, 12> kKeyCodes{{{"BTN_TOUCH", 0x14a},
                                           {"BTN_TOOL_FINGER", 0x145},
                                           {"BTN_TOOL_PEN", 0x140},
                                           {"BTN_TOOL_RUBBER", 0x141},
                                           {"BTN_TOOL_DOUBLETAP", 0x14d},
                                           {"BTN_TOOL_TRIPLETAP", 0x14e},
                                           {"BTN_TOOL_QUADTAP", 0x14f},
                                           {"BTN_TOOL_QUINTTAP", 0x148},
                                           {"BTN_STYLUS", 0x14b},
                                           {"KEY_VOLUMEDOWN", 114},
                                           {"KEY_VOLUMEUP", 115},
                                           {"KEY_POWER", 116}}};
constexpr std::array<Label, 6> kMscCodes{{{"MSC_TIMESTAMP", 5},
                                          {"MSC_SCAN", 4},
                                          {"MSC_SERIAL", 0},
                                          {"MSC_PULSELED", 1},
                                          {"MSC_GESTURE", 2},
                                          {"MSC_RAW", 3}}};
constexpr std::array<Label, 3> kSwCodes{{{"SW_LID", 0}, {"SW_TABLET_MODE", 1}, {"SW_HEADPHONE_INSERT", 2}}};
constexpr std::array<Label, 6> kValues{
    {{"DOWN", 1}, {"UP", 0}, {"REPEAT", 2}, {"MT_TOOL_FINGER", 0}, {"MT_TOOL_PEN", 1}, {"MT_TOOL_PALM", 2}}};

template <std::size_t N>
std::optional<std::uint16_t> look_up(const std::array<Label, N>& labels, std::string_view word) noexcept {
  for (const auto& l : labels)
    if (l.name == word) return l.number;
  return std::nullopt;
}

/// 1 to 8 lower-case hexadecimal digits.
std::optional<std::uint32_t> hex_number(std::string_view word) noexcept {
  if (word.empty() || word.size() > 8) return std::nullopt;
  std::uint32_t v = 0;
  for (const char c : word) {
    const bool digit = c >= '0' && c <= '9', letter = c >= 'a' && c <= 'f';
    if (!digit && !letter) return std::nullopt;
    v = v << 4 | static_cast<std::uint32_t>(digit ? c - '0' : c - 'a' + 10);
  }
  return v;
}

std::optional<std::uint16_t> hex4(std::string_view word) noexcept {
  if (word.size() != 4) return std::nullopt;
  const auto v = hex_number(word);
  if (!v) return std::nullopt;
  return static_cast<std::uint16_t>(*v);
}

std::optional<std::uint16_t> code_number(std::uint16_t type, std::string_view word) noexcept {
  if (const auto v = hex4(word)) return v;
  switch (type) {
    case kSyn:
      return look_up(kSynCodes, word);
    case kKey:
      return look_up(kKeyCodes, word);
    case kAbs:
      return look_up(kAbsCodes, word);
    case kMsc:
      return look_up(kMscCodes, word);
    case kSw:
      return look_up(kSwCodes, word);
    default:
      return std::nullopt;
  }
}

/// Keys that may leave the parser: touch and pen buttons, volume and power. What was typed on a keyboard
/// never does.
bool key_may_leave(std::uint16_t code) noexcept {
  return (code >= 0x140 && code <= 0x14f) || (code >= 114 && code <= 116);
}

/// Takes the next blank-separated word off the front of `s`.
std::string_view take_word(std::string_view& s) noexcept {
  const char* p = s.data();
  const char* const end = p + s.size();
  while (p != end && *p == ' ') ++p;
  const char* const from = p;
  while (p != end && *p != ' ') ++p;
  s = {p, static_cast<std::size_t>(end - p)};
  return {from, static_cast<std::size_t>(p - from)};
}

/// "[    5123.456789]" off the front of `s`, in seconds: at most 12 digits, exactly 6 decimals.
std::optional<double> take_time(std::string_view& s) noexcept {
  const char* p = s.data();
  const char* const end = p + s.size();
  if (p == end || *p != '[') return std::nullopt;
  ++p;
  while (p != end && *p == ' ') ++p;
  std::int64_t us = 0;
  const auto digits = [&](int most) {
    int n = 0;
    for (; p != end && *p >= '0' && *p <= '9' && n < most; ++p, ++n) us = us * 10 + (*p - '0');
    return n;
  };
  if (digits(12) == 0 || p == end || *p++ != '.' || digits(6) != 6 || p == end || *p++ != ']')
    return std::nullopt;
  s = {p, static_cast<std::size_t>(end - p)};
  return static_cast<double>(us) / 1e6;
}

enum class Line { event, dropped, bad };

Line read_line(std::string_view s, InputEvent& e) noexcept {
  const auto t = take_time(s);
  if (!t) return Line::bad;
  auto word = take_word(s);
  if (word.starts_with("/dev/input/event")) word = take_word(s);
  auto type = hex4(word);
  if (!type) type = look_up(kTypes, word);
  if (!type) return Line::bad;
  const auto code_word = take_word(s);
  const auto value_word = take_word(s);
  if (value_word.empty() || !take_word(s).empty()) return Line::bad;
  const auto code = code_number(*type, code_word);
  if (*type == kKey && (code ? !key_may_leave(*code) : code_word.starts_with("KEY_"))) return Line::dropped;
  if (!code) return Line::bad;
  auto value = hex_number(value_word);
  if (!value) value = look_up(kValues, value_word);
  if (!value) return Line::bad;
  e = {*t, *type, *code, std::bit_cast<std::int32_t>(*value)};
  return Line::event;
}

constexpr std::size_t kLongestLine = 512;
}  // namespace

void InputEventParser::feed(std::string_view text, std::vector<InputEvent>& into) {
  const auto whole_line = [&](std::string_view line) {
    while (!line.empty() && line.back() == '\r') line.remove_suffix(1);
    if (line.empty()) return;
    InputEvent e;
    const auto kind = line.size() > kLongestLine ? Line::bad : read_line(line, e);
    if (kind == Line::event) into.push_back(e);
    if (kind == Line::bad) ++bad_;
  };
  while (!text.empty()) {
    const void* found = std::memchr(text.data(), '\n', text.size());
    const auto size =
        found ? static_cast<std::size_t>(static_cast<const char*>(found) - text.data()) : text.size();
    const auto piece = text.substr(0, size);
    text.remove_prefix(found ? size + 1 : size);
    if (!overlong_ && rest_.size() + piece.size() > kLongestLine + 1) {  // one more for a carriage return
      overlong_ = true;
      ++bad_;
    }
    if (overlong_) {
      rest_.clear();
    } else if (!found) {
      rest_.append(piece);
    } else if (rest_.empty()) {
      whole_line(piece);
    } else {
      rest_.append(piece);
      whole_line(rest_);
      rest_.clear();
    }
    if (found) overlong_ = false;
  }
}
}  // namespace hb::phone
