// What no text may do: crash a parser, get words of its own out, or turn a forced state into a free one.
#include <gtest/gtest.h>

#include <chrono>
#include <map>
#include <string>

#include "show.hpp"
#include "texts.hpp"

namespace hb::phone {
namespace {

std::map<std::string, std::function<Parsed(std::string_view)>> by_name() {
  std::map<std::string, std::function<Parsed(std::string_view)>> m;
  for (auto& p : all_parsers()) m[p.name] = p.parse;
  return m;
}

struct Sample {
  std::string parser;
  std::string_view text;
};
const std::vector<Sample>& free_texts() {
  static const std::vector<Sample> all{{"battery", texts::battery},
                                       {"cell", texts::cell},
                                       {"cell", texts::cell_denied},
                                       {"supply", texts::supply},
                                       {"wifi", texts::wifi},
                                       {"bluetooth", texts::bluetooth},
                                       {"nfc", texts::nfc},
                                       {"sim", texts::sim},
                                       {"mobile", texts::mobile},
                                       {"fingerprint", texts::fingerprint},
                                       {"sensors", texts::sensors},
                                       {"input devices", texts::input_devices},
                                       {"device state", texts::device_state},
                                       {"thermal", texts::thermal},
                                       {"cameras", texts::cameras},
                                       {"display size", texts::wm_size},
                                       {"input events", texts::touch_labels},
                                       {"input events", texts::touch_hex}};
  return all;
}

constexpr std::string_view kBytes("\0\n\r 9-(=:,[{'|x\x1b\xff", 17);

/// Calls `each` with every prefix of `text` and with every single byte of it replaced by each of kBytes.
template <class Each>
void damage(std::string_view text, Each each) {
  for (std::size_t n = 0; n <= text.size(); ++n) each(text.substr(0, n), n);
  std::string damaged(text);
  for (std::size_t i = 0; i < text.size(); ++i) {
    for (const char c : kBytes) {
      damaged[i] = c;
      each(damaged, i);
    }
    damaged[i] = text[i];
  }
}

TEST(HostileText, DamageNeverInventsARefusal) {
  const auto parse = by_name();
  for (const auto& s : free_texts()) {
    const auto& p = parse.at(s.parser);
    ASSERT_FALSE(p(s.text).error) << s.parser;
    damage(s.text, [&](std::string_view t, std::size_t at) {
      ASSERT_FALSE(p(t).refuse) << s.parser << " at byte " << at;
    });
  }
}

TEST(HostileText, DamageNeverFreesAForcedState) {
  const auto parse = by_name();
  const std::string thermal = "IsStatusOverride: true\nThermal Status: 3\nHAL Ready: true\n";
  for (const auto& s : {Sample{"battery", texts::battery_frozen},
                        Sample{"device state", texts::device_state_forced}, Sample{"thermal", thermal}}) {
    const auto& p = parse.at(s.parser);
    damage(s.text, [&](std::string_view t, std::size_t at) {
      const auto r = p(t);
      ASSERT_TRUE(r.error || r.refuse) << s.parser << " at byte " << at;
    });
  }
}

TEST(HostileText, DamagedOverrideOfTheDisplaySizeIsStillSeen) {
  std::string t(texts::wm_size_override);
  for (std::size_t i = texts::wm_size.size(); i + 1 < t.size(); ++i) {
    const char was = std::exchange(t[i], '\n');
    EXPECT_TRUE(parse_wm_size(t).value().overridden) << i;
    t[i] = was;
  }
}

TEST(HostileText, EveryParserTakesEveryOtherText) {
  for (const auto& p : all_parsers()) {
    for (const auto& s : free_texts()) EXPECT_FALSE(p.parse(s.text).refuse) << p.name << " on " << s.parser;
    for (const std::string& t : {std::string(), std::string(1, '\0'), std::string(1000, '\n'),
                                 std::string(1000, '('), std::string("\xff\xfe\xfd")})
      (void)p.parse(t);
  }
}

// A quadratic parser takes minutes for these; a linear one some milliseconds. The bound is wide on purpose.
TEST(HostileText, LongTextTakesLinearTime) {
  constexpr std::size_t kSize = 2u << 20;
  const auto repeated = [](std::string_view unit) {
    std::string s;
    while (s.size() < kSize) s += unit;
    return s;
  };
  std::vector<std::string> long_texts{repeated("a"),         repeated("(ts="),        repeated(": last "),
                                      repeated("| type: ("), repeated("[ "),          repeated("=:x"),
                                      repeated("\n"),        repeated("Temperature{")};
  for (const auto& s : free_texts()) long_texts.push_back(repeated(s.text));
  std::string many = "Sensor List:\n";
  while (many.size() < kSize / 2) many += "0x1) H | V | ver: 1 | type: a(36) | perm: n/a\n";
  many += "Recent Sensor events:\n";
  while (many.size() < kSize) many += "H: last 1 events\n";
  long_texts.push_back(many);
  const auto start = std::chrono::steady_clock::now();
  for (const auto& p : all_parsers())
    for (const auto& t : long_texts) (void)p.parse(t);
  EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(60));
}

// ------------------------------------------------------------------------------- planted personal words

constexpr std::string_view kCanary = "QZX-canary-7731";
constexpr std::string_view kCanaryNumber = "490154203237518";  // the form of a device number; invented

/// `text` with personal words at the end of every line, in lines of their own, in every quoted and named
/// place, and in place of every value.
std::vector<std::string> planted(std::string_view text) {
  std::vector<std::string> out;
  const std::string words = " " + std::string(kCanary) + " " + std::string(kCanaryNumber);
  std::string ends, between, names, values;
  bool in_value = false;
  for (const char c : text) {
    if (c == '\n') ends += words, between += "\n  owner:" + words + "\n  owner=" + words;
    ends += c;
    between += c;
    names += c;
    if (c == '"' || c == '\'') names += words;
    if (c == '\n') in_value = false;
    if (!in_value) values += c;
    if ((c == ':' || c == '=') && !in_value) in_value = true, values += words;
  }
  out.insert(out.end(), {ends, between, names, values});
  std::string digits;
  for (const char c : text) digits += c == '0' ? std::string(kCanaryNumber) : std::string(1, c);
  out.push_back(digits);
  return out;
}

TEST(PlantedPersonalWords, NeverLeaveAParser) {
  const auto parse = by_name();
  int texts_tried = 0;
  for (const auto& s : free_texts()) {
    for (const auto& text : planted(s.text)) {
      if (text == s.text) continue;
      for (const auto& [name, p] : parse) {
        const auto r = p(text);
        EXPECT_EQ(r.shown.find("canary"), r.shown.npos) << name << " on " << s.parser;
        EXPECT_EQ(r.shown.find(kCanaryNumber), r.shown.npos) << name << " on " << s.parser;
        ++texts_tried;
      }
    }
  }
  EXPECT_GT(texts_tried, 100);
}

TEST(PlantedPersonalWords, KeysOfAKeyboardNeverLeaveTheEventParser) {
  InputEventParser p;
  std::vector<InputEvent> events;
  p.feed(
      "[       1.000000] EV_KEY       KEY_S                DOWN                \n"
      "[       1.000000] EV_KEY       0031                 DOWN                \n"
      "[       1.000000] 0001 0012 00000001\n",
      events);
  EXPECT_TRUE(events.empty());
}
}  // namespace
}  // namespace hb::phone
