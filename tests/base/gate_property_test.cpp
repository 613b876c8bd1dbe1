// Thousands of disguises, made by rule from a seed: whatever a person can still read as a telephone number,
// an IMEI or a mail address must be refused; whatever a bench writes of its work must pass.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>

#include "harness/base/gate.hpp"

namespace hb {
namespace {

std::string utf8(char32_t c) {
  std::string s;
  const auto tail = [&](int shift) { s += static_cast<char>(0x80 | (c >> shift & 0x3f)); };
  if (c < 0x80)
    s += static_cast<char>(c);
  else if (c < 0x800)
    s += static_cast<char>(0xc0 | c >> 6), tail(0);
  else if (c < 0x10000)
    s += static_cast<char>(0xe0 | c >> 12), tail(6), tail(0);
  else
    s += static_cast<char>(0xf0 | c >> 18), tail(12), tail(6), tail(0);
  return s;
}

class Disguise {
 public:
  explicit Disguise(unsigned seed) : random_(seed) {}
  std::size_t upto(std::size_t n) { return random_() % n; }
  template <class List>
  auto one_of(const List& list) {
    return list[upto(std::size(list))];
  }
  bool chance(unsigned percent) { return upto(100) < percent; }

  /// Something that is not seen, now and then.
  std::string unseen() {
    static constexpr char32_t all[] = {0x200b, 0x200c, 0x200d, 0x2060, 0xfeff,
                                       0xad,   0x200e, 0x202d, 0x301,  0xfe0f};
    return chance(20) ? utf8(one_of(all)) : std::string();
  }
  /// The digits in one script or a mix, with separators between groups.
  std::string number(const std::string& digits) {
    static constexpr char32_t zeros[] = {'0',    0x660,  0x6f0,  0x966,   0x9e6,   0xe50,   0x1040, 0x17e0,
                                         0xff10, 0xa8d0, 0x1810, 0x1d7ce, 0x1d7f6, 0x11066, 0x2080, 0x104a0};
    static const std::string separators[] = {
        " ",  "-",        ".",          "/",          " / ",        " - ",        ",",        "_",
        "(",  ") ",       ":",          ";",          "*",          "|",          "'",        "~",
        "  ", utf8(0xa0), utf8(0x2013), utf8(0x2007), utf8(0x3000), utf8(0xff0d), utf8(0xb7), utf8(0x2212)};
    const bool mixed = chance(20);
    auto zero = one_of(zeros);
    std::string out;
    std::size_t group = 2 + upto(4);
    for (std::size_t i = 0; i < digits.size(); ++i) {
      if (mixed) zero = one_of(zeros);
      if (group == 0) {
        out += one_of(separators);
        group = 2 + upto(4);
      }
      --group;
      out += utf8(zero + static_cast<char32_t>(digits[i] - '0')) + unseen();
    }
    return out;
  }
  std::string digits(std::size_t n) {
    std::string d;
    while (d.size() < n) d += static_cast<char>('0' + upto(10));
    return d;
  }
  /// Fourteen digits and the one of ISO/IEC 7812-1 annex B.
  std::string imei() {
    const auto head = digits(14);
    for (char c = '0'; c <= '9'; ++c)
      if (luhn_valid(head + c)) return head + c;
    return {};
  }
  std::string mail() {
    static const std::string names[] = {"ann", "j.doe", "x_y", "maria99", utf8(0x436) + utf8(0x430), "a.b.c"};
    static const std::string places[] = {"example", "mail-1", "post", utf8(0x4f8b) + utf8(0x3048)};
    static const std::string ends[] = {"org", "com", "de", "example"};
    static const std::string ats[] = {"@",      " @ ",      "@ ",         " @",        "(at)",
                                      " [at] ", " ( at ) ", utf8(0xff20), utf8(0xfe6b)};
    static const std::string dots[] = {".", utf8(0xff0e), utf8(0x3002), utf8(0x2024), "(dot)", " [dot] "};
    return one_of(names) + unseen() + one_of(ats) + unseen() + one_of(places) + one_of(dots) + one_of(ends);
  }
  /// Among the shop's own words, with room on both sides.
  std::string among(const std::string& what) {
    static const std::string before[] = {"",      "call ", "customer ", "Rückruf ",
                                         "IMEI ", "sn: ",  "電話 ",     "fault, see "};
    static const std::string after[] = {"", " please", ", evenings", " (mobile)", ".", " bis Freitag"};
    return one_of(before) + what + one_of(after);
  }

 private:
  std::mt19937 random_;
};

TEST(GateProperty, NoDisguiseOfATelephoneNumberPasses) {
  for (unsigned seed = 0; seed < 3000; ++seed) {
    Disguise d(seed);
    const auto text = d.among((d.chance(30) ? "+" : "") + d.number("0" + d.digits(9 + d.upto(3))));
    EXPECT_FALSE(personal_reason(text).empty()) << seed << ": " << text;
  }
}

TEST(GateProperty, NoDisguiseOfAnImeiPasses) {
  for (unsigned seed = 0; seed < 2000; ++seed) {
    Disguise d(seed);
    const auto text = d.among(d.number(d.imei()));
    EXPECT_FALSE(personal_reason(text).empty()) << seed << ": " << text;
  }
}

TEST(GateProperty, NoDisguiseOfAMailAddressPasses) {
  for (unsigned seed = 0; seed < 3000; ++seed) {
    Disguise d(seed);
    const auto text = d.among(d.mail());
    EXPECT_FALSE(personal_reason(text).empty()) << seed << ": " << text;
  }
}

TEST(GateProperty, WhatABenchWritesOfItsWorkPasses) {
  for (unsigned seed = 0; seed < 3000; ++seed) {
    Disguise d(seed);
    static const char* parts[] = {"display", "hinge",     "rear cover", "pad",
                                  "Akku",    "Scharnier", "画面",       "écran"};
    static const char* states[] = {"dark after a fall", "loose", "replaced", "flackert",
                                   "cracked at the corner"};
    static const char* units[] = {"mm", "%", "deg", "mAh", "EUR", "°C", "screws"};
    const std::string rows[] = {
        fmt::format("{} {}", d.one_of(parts), d.one_of(states)),
        fmt::format("{} {:.1f} {}", d.one_of(parts), static_cast<double>(d.upto(9999)) / 10, d.one_of(units)),
        fmt::format("LOT-{}{}{}", d.upto(99), static_cast<char>('A' + d.upto(26)), d.upto(9)),
        fmt::format("{} of {} {}", d.upto(20), d.upto(40), d.one_of(units)),
        fmt::format("{} since 2026-{:02}-{:02} {:02}:{:02}", d.one_of(parts), 1 + d.upto(12), 1 + d.upto(28),
                    d.upto(24), d.upto(60)),
        fmt::format("{}, {} EUR, {} {}", d.one_of(parts), d.upto(900), d.upto(90), d.one_of(units))};
    for (const auto& text : rows)
      EXPECT_TRUE(personal_reason(text).empty())
          << seed << ": " << text << ": " << personal_reason(text).view();
  }
}

TEST(GateProperty, AnyBytesGiveAnAnswer) {
  std::mt19937 random(5);
  for (int i = 0; i < 5000; ++i) {
    std::string text(random() % 120, '\0');
    for (auto& c : text) c = static_cast<char>(random());
    static_cast<void>(personal_reason(text));
    static_cast<void>(ShopText::screened(text, "f"));
  }
}
}  // namespace
}  // namespace hb
