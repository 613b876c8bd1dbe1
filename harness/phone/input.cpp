// `getevent -lp` (AOSP toolbox getevent.c; numbers: Linux include/uapi/linux/input-event-codes.h).
#include <algorithm>

#include "detail/scan.hpp"
#include "harness/base/text.hpp"
#include "harness/phone/phone.hpp"

namespace hb::phone {
namespace {
using namespace detail;

// ------------------------------------------------------------------------------- possible events

/// "/dev/input/event12" -> 12
std::optional<int> node_number(std::string_view path) {
  const auto digits = after(trim(path), "/dev/input/event");
  if (!digits || digits->size() > 3) return std::nullopt;
  return whole_in(*digits, 0, 999);
}

/// "value 0, min 0, max 1799, fuzz 0, ..." -> 1799
std::optional<int> max_of(std::string_view v, int most) {
  const auto at = v.find("max ");
  if (at == std::string_view::npos) return std::nullopt;
  v.remove_prefix(at + 4);
  return whole_in(v.substr(0, v.find(',')), 0, most);
}

/// "KEY_POWER", "0074": the code of a side key, or nullopt.
std::optional<std::uint16_t> side_key(std::string_view word) noexcept {
  struct Name {
    std::string_view label, digits;
    std::uint16_t code;
  };
  static constexpr Name names[] = {
      {"KEY_VOLUMEDOWN", "0072", 114}, {"KEY_VOLUMEUP", "0073", 115}, {"KEY_POWER", "0074", 116}};
  for (const auto& n : names)
    if (word == n.label || word == n.digits) return n.code;
  return std::nullopt;
}

void keep_once(std::vector<std::uint16_t>& into, std::uint16_t code) {
  const auto at = std::lower_bound(into.begin(), into.end(), code);
  if (at == into.end() || *at != code) into.insert(at, code);
}

struct Candidate {
  TouchDevice device;
  KeyDevice keys;
  FirstOnly axes;
  int found = 0;
  void take_axis(std::string_view name, std::string_view v) {
    const auto axis = [&](unsigned index, int& into, int least, int most) {
      const auto max = axes.first(index) ? max_of(v, most) : std::nullopt;
      if (max && *max >= least) into = *max, ++found;
    };
    if (name == "ABS_MT_SLOT" || name == "002f") axis(0, device.max_slot, 0, 255);
    if (name == "ABS_MT_POSITION_X" || name == "0035") axis(1, device.max_x, 1, 1 << 20);
    if (name == "ABS_MT_POSITION_Y" || name == "0036") axis(2, device.max_y, 1, 1 << 20);
  }
};

class PossibleEvents {
 public:
  void take(std::string_view line) {
    if (const auto rest = after(line, "add device ")) return begin(*rest);
    const auto body = trim(line);
    if (const auto head = group_head(body)) {
      group_ = head->key;
      return item(head->value);
    }
    if (body == "events:" || body == "input props:" || body.starts_with("name:")) group_ = {};
    item(body);
  }
  [[nodiscard]] bool any() const noexcept { return any_; }
  [[nodiscard]] InputDevices finish() && {
    keep();
    std::stable_sort(out_.touch.begin(), out_.touch.end(),
                     [](const TouchDevice& a, const TouchDevice& b) { return a.node < b.node; });
    const auto same = [](const auto& a, const auto& b) { return a.node == b.node; };
    out_.touch.erase(std::unique(out_.touch.begin(), out_.touch.end(), same), out_.touch.end());
    std::stable_sort(out_.keys.begin(), out_.keys.end(),
                     [](const KeyDevice& a, const KeyDevice& b) { return a.node < b.node; });
    out_.keys.erase(std::unique(out_.keys.begin(), out_.keys.end(), same), out_.keys.end());
    return std::move(out_);
  }

 private:
  /// "ABS (0003): ABS_MT_SLOT : value ..." -> {ABS, the rest}
  static std::optional<KeyValue> group_head(std::string_view body) {
    const auto open = body.find('(');
    if (open == std::string_view::npos || open > 5 || body.size() < open + 7 ||
        body.substr(open + 5, 2) != "):")
      return std::nullopt;
    return KeyValue{trim(body.substr(0, open)), trim(body.substr(open + 7))};
  }
  void begin(std::string_view rest) {
    keep();
    any_ = true;
    group_ = {};
    const auto colon = rest.find(": ");
    if (colon == std::string_view::npos) return;
    if (const auto n = node_number(rest.substr(colon + 2))) now_.device.node = *n;
  }
  void item(std::string_view body) {
    if (group_ == "ABS") {
      if (const auto kv = key_value(body, ':')) {
        auto name = kv->key;
        if (name.ends_with('*')) name.remove_suffix(1);
        now_.take_axis(name, kv->value);
      }
    } else if (group_ == "SW") {
      each_word(body, [this](std::string_view word, bool on) { take_switch(word, on); });
    } else if (group_ == "KEY") {
      each_word(body, [this](std::string_view word, bool on) { take_key(word, on); });
    }
  }
  /// Words between blanks; a star behind one says that it is on.
  template <class Take>
  static void each_word(std::string_view body, Take take) {
    while (!body.empty()) {
      auto word = body.substr(0, body.find(' '));
      body = trim(body.substr(word.size()));
      const bool on = word.ends_with('*');
      if (on) word.remove_suffix(1);
      take(word, on);
    }
  }
  void take_key(std::string_view word, bool on) {
    const auto code = side_key(word);
    if (!code) return;
    keep_once(now_.keys.keys, *code);
    if (on) keep_once(now_.keys.down, *code);
  }
  void take_switch(std::string_view word, bool on) {
    if (word != "SW_LID" && word != "0000") return;
    now_.keys.lid = true;
    if (std::exchange(out_.has_lid_switch, true)) return;
    out_.lid_closed = on;
  }
  void keep() {
    if (now_.device.node >= 0 && now_.found == 3) out_.touch.push_back(now_.device);
    now_.keys.node = now_.device.node;
    if (now_.keys.node >= 0 && (now_.keys.lid || !now_.keys.keys.empty()))
      out_.keys.push_back(std::move(now_.keys));
    now_ = Candidate{};
  }

  InputDevices out_;
  Candidate now_;
  std::string_view group_;
  bool any_ = false;
};
}  // namespace

Result<InputDevices> parse_input_devices(std::string_view text) {
  PossibleEvents reader;
  LineCursor lines(text);
  while (const auto line = lines.next()) reader.take(*line);
  if (!reader.any()) return nothing_found("input devices", text);
  return std::move(reader).finish();
}
}  // namespace hb::phone
