#include "gate_plain.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <span>

namespace hb::detail {
namespace {
/// Zero of each run of ten decimal digits: Unicode 14.0, general category Nd.
constexpr std::array<char32_t, 65> kZeros{
    0x660,   0x6f0,   0x7c0,   0x966,   0x9e6,   0xa66,   0xae6,   0xb66,   0xbe6,   0xc66,   0xce6,
    0xd66,   0xde6,   0xe50,   0xed0,   0xf20,   0x1040,  0x1090,  0x17e0,  0x1810,  0x1946,  0x19d0,
    0x1a80,  0x1a90,  0x1b50,  0x1bb0,  0x1c40,  0x1c50,  0xa620,  0xa8d0,  0xa900,  0xa9d0,  0xa9f0,
    0xaa50,  0xabf0,  0xff10,  0x104a0, 0x10d30, 0x11066, 0x110f0, 0x11136, 0x111d0, 0x112f0, 0x11450,
    0x114d0, 0x11650, 0x116c0, 0x11730, 0x118e0, 0x11950, 0x11c50, 0x11d50, 0x11da0, 0x16a60, 0x16ac0,
    0x16b50, 0x1d7ce, 0x1d7d8, 0x1d7e2, 0x1d7ec, 0x1d7f6, 0x1e140, 0x1e2f0, 0x1e950, 0x1fbf0};

struct Range {
  char32_t first, last;
  char to;             ///< of `first`; '\0': left out
  bool count = false;  ///< the next ones are the next ASCII characters
};
constexpr Range kRanges[] = {
    // Not seen.
    {0xad, 0xad, 0},
    {0x300, 0x36f, 0},
    {0x61c, 0x61c, 0},
    {0x115f, 0x1160, 0},
    {0x17b4, 0x17b5, 0},
    {0x180b, 0x180f, 0},
    {0x200b, 0x200f, 0},
    {0x202a, 0x202e, 0},
    {0x2060, 0x206f, 0},
    {0x20d0, 0x20ff, 0},
    {0x3164, 0x3164, 0},
    {0xfe00, 0xfe0f, 0},
    {0xfe20, 0xfe2f, 0},
    {0xfeff, 0xfeff, 0},
    {0xffa0, 0xffa0, 0},
    {0xfff9, 0xfffb, 0},
    {0x1bca0, 0x1bca3, 0},
    {0x1d173, 0x1d17a, 0},
    {0xe0000, 0xe0fff, 0},
    // Digits.
    {0xb2, 0xb3, '2', true},
    {0xb9, 0xb9, '1'},
    {0x2070, 0x2070, '0'},
    {0x2074, 0x2079, '4', true},
    {0x2080, 0x2089, '0', true},
    {0x2460, 0x2468, '1', true},
    {0x2474, 0x247c, '1', true},
    {0x2488, 0x2490, '1', true},
    {0x24ea, 0x24ea, '0'},
    {0x24f5, 0x24fd, '1', true},
    {0x24ff, 0x24ff, '0'},
    {0x2776, 0x277e, '1', true},
    {0x2780, 0x2788, '1', true},
    {0x278a, 0x2792, '1', true},
    {0x3007, 0x3007, '0'},
    {0x96f6, 0x96f6, '0'},
    {0x4e00, 0x4e00, '1'},
    {0x4e8c, 0x4e8c, '2'},
    {0x4e09, 0x4e09, '3'},
    {0x56db, 0x56db, '4'},
    {0x4e94, 0x4e94, '5'},
    {0x516d, 0x516d, '6'},
    {0x4e03, 0x4e03, '7'},
    {0x516b, 0x516b, '8'},
    {0x4e5d, 0x4e5d, '9'},
    // Letters.
    {0x24b6, 0x24cf, 'a', true},
    {0x24d0, 0x24e9, 'a', true},
    {0xff21, 0xff3a, 'a', true},
    {0xff41, 0xff5a, 'a', true},
    // Spaces.
    {0xa0, 0xa0, ' '},
    {0x1680, 0x1680, ' '},
    {0x2000, 0x200a, ' '},
    {0x2028, 0x2029, ' '},
    {0x202f, 0x202f, ' '},
    {0x205f, 0x205f, ' '},
    {0x2800, 0x2800, ' '},
    {0x3000, 0x3000, ' '},
    // Dashes.
    {0x58a, 0x58a, '-'},
    {0x5be, 0x5be, '-'},
    {0x1400, 0x1400, '-'},
    {0x1806, 0x1806, '-'},
    {0x2010, 0x2015, '-'},
    {0x2043, 0x2043, '-'},
    {0x207b, 0x207b, '-'},
    {0x208b, 0x208b, '-'},
    {0x2212, 0x2212, '-'},
    {0x2500, 0x2501, '-'},
    {0x2e17, 0x2e17, '-'},
    {0x2e1a, 0x2e1a, '-'},
    {0x2e3a, 0x2e3b, '-'},
    {0x2e40, 0x2e40, '-'},
    {0x2e5d, 0x2e5d, '-'},
    {0x301c, 0x301c, '-'},
    {0x3030, 0x3030, '-'},
    {0x30a0, 0x30a0, '-'},
    {0x30fc, 0x30fc, '-'},
    {0xfe31, 0xfe32, '-'},
    {0xfe58, 0xfe58, '-'},
    {0xfe63, 0xfe63, '-'},
    {0xff0d, 0xff0d, '-'},
    {0xff5e, 0xff5e, '-'},
    {0x10ead, 0x10ead, '-'},
    // Dots.
    {0xb7, 0xb7, '.'},
    {0x6d4, 0x6d4, '.'},
    {0x701, 0x702, '.'},
    {0x2022, 0x2022, '.'},
    {0x2024, 0x2024, '.'},
    {0x2027, 0x2027, '.'},
    {0x2219, 0x2219, '.'},
    {0x22c5, 0x22c5, '.'},
    {0x3002, 0x3002, '.'},
    {0x30fb, 0x30fb, '.'},
    {0xfe52, 0xfe52, '.'},
    {0xff0e, 0xff0e, '.'},
    {0xff61, 0xff61, '.'},
    {0xff65, 0xff65, '.'},
    // The rest of what numbers and addresses are written with.
    {0x60c, 0x60c, ','},
    {0x3001, 0x3001, ','},
    {0xfe50, 0xfe51, ','},
    {0xff0c, 0xff0c, ','},
    {0x2044, 0x2044, '/'},
    {0x2215, 0x2215, '/'},
    {0x29f8, 0x29f8, '/'},
    {0xff0f, 0xff0f, '/'},
    {0x2236, 0x2236, ':'},
    {0xa789, 0xa789, ':'},
    {0xfe55, 0xfe55, ':'},
    {0xff1a, 0xff1a, ':'},
    {0x207a, 0x207a, '+'},
    {0x208a, 0x208a, '+'},
    {0x2795, 0x2795, '+'},
    {0xfe62, 0xfe62, '+'},
    {0xff0b, 0xff0b, '+'},
    {0xfe6b, 0xfe6b, '@'},
    {0xff20, 0xff20, '@'},
    {0xff3f, 0xff3f, '_'},
    {0xff08, 0xff09, '(', true},
    {0x207d, 0x207e, '(', true},
    {0x208d, 0x208e, '(', true},
    {0xff3b, 0xff3b, '['},
    {0xff3d, 0xff3d, ']'},
    {0xff5c, 0xff5c, '|'},
};

}  // namespace

Read read(std::string_view t) {
  const auto b = [&](std::size_t i) { return static_cast<unsigned char>(t[i]); };
  const unsigned head = b(0);
  const std::size_t n = head < 0x80 ? 1 : head >= 0xf0 ? 4 : head >= 0xe0 ? 3 : head >= 0xc0 ? 2 : 1;
  constexpr char32_t none = 0xfffd;
  if (n == 1) return {head < 0x80 ? static_cast<char32_t>(head) : none, 1};
  if (n > t.size()) return {none, 1};
  char32_t c = head & (0x7fU >> n);
  for (std::size_t i = 1; i < n; ++i) {
    if ((b(i) & 0xc0U) != 0x80) return {none, 1};
    c = c << 6 | (b(i) & 0x3fU);
  }
  return {c, n};
}

void put_plain(std::string& out, std::string_view bytes, char32_t c) {
  if (c < 0x80) {
    out += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : static_cast<char>(c);
    return;
  }
  for (const auto zero : kZeros)
    if (c >= zero && c < zero + 10) {
      out += static_cast<char>('0' + (c - zero));
      return;
    }
  if (c >= 0x1d400 && c <= 0x1d6a3) {  // alphabets of 26 capitals and 26 small letters, in many styles
    out += static_cast<char>('a' + (c - 0x1d400) % 26);
    return;
  }
  for (const auto& r : kRanges)
    if (c >= r.first && c <= r.last) {
      if (r.to != 0) out += static_cast<char>(r.to + (r.count ? static_cast<int>(c - r.first) : 0));
      return;
    }
  out += bytes;
}

namespace {
bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// True when the nearest characters on that side, behind at most four that are no letters, are a digit.
bool digit_near(std::string_view t, std::size_t from, std::size_t to) {
  const auto joins = [](char c) { return !is_digit(c) && c != '#' && !(c >= 'a' && c <= 'z'); };
  constexpr std::size_t most = 4;
  std::size_t before = 0, after = 0;
  while (before < most && before < from && joins(t[from - 1 - before])) ++before;
  while (after < most && to + after < t.size() && joins(t[to + after])) ++after;
  return (before < from && is_digit(t[from - 1 - before])) ||
         (to + after < t.size() && is_digit(t[to + after]));
}

/// The text has the shape dddd-dd-dd: a day of this or the last century.
bool is_day(std::string_view t) {
  const auto two = [&](std::size_t i) { return (t[i] - '0') * 10 + (t[i + 1] - '0'); };
  return (two(0) == 19 || two(0) == 20) && two(5) >= 1 && two(5) <= 12 && two(8) >= 1 && two(8) <= 31;
}

enum class Hidden { day, day_of_this_century, alone };

/// Every place that has the shape (d: a digit) with no further digit around it becomes '#'. `alone`: only
/// where no other number is near, so that a number cannot hide its middle; else it must be a day, written
/// from the year on, or one of the years 2013 to 2099 with the year last.
void hide(std::string& t, std::string_view shape, Hidden how) {
  const auto rest_fits = [&](std::size_t i) {
    const auto here = std::string_view(t).substr(i, shape.size());
    if (how == Hidden::day) return is_day(here);
    if (how == Hidden::alone) return !digit_near(t, i, i + shape.size());
    const auto year = here.substr(here.size() - 4);
    return year >= "2013" && year <= "2099" && here[0] <= '3' && !digit_near(t, i, i + shape.size());
  };
  for (std::size_t i = 0; i + shape.size() <= t.size(); ++i) {
    const auto end = i + shape.size();
    bool fits = (i == 0 || !is_digit(t[i - 1])) && (end == t.size() || !is_digit(t[end]));
    for (std::size_t k = 0; fits && k < shape.size(); ++k)
      fits = shape[k] == 'd' ? is_digit(t[i + k]) : t[i + k] == shape[k];
    if (!fits || !rest_fits(i)) continue;
    t.erase(i + 1, shape.size() - 1);
    t[i] = '#';
  }
}

/// "(at)", "[ at ]", "{dot}" with the spaces around them.
void unfold(std::string& t, std::string_view word, char sign) {
  for (auto at = t.find(word); at != std::string::npos; at = t.find(word, at + 1)) {
    auto from = at, to = at + word.size();
    while (from > 0 && t[from - 1] == ' ') --from;
    while (to < t.size() && t[to] == ' ') ++to;
    constexpr std::string_view opens = "([{<", closes = ")]}>";
    if (from == 0 || to == t.size() || opens.find(t[from - 1]) == std::string_view::npos ||
        closes.find(t[to]) == std::string_view::npos)
      continue;
    --from, ++to;
    while (from > 0 && t[from - 1] == ' ') --from;
    while (to < t.size() && t[to] == ' ') ++to;
    t.replace(from, to - from, 1, sign);
    at = from;
  }
}
}  // namespace

std::string plain(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const auto r = read(text);
    put_plain(out, text.substr(0, r.length), r.c);
    text.remove_prefix(r.length);
  }
  unfold(out, "at", '@');
  unfold(out, "dot", '.');
  unfold(out, "punkt", '.');
  hide(out, "dddd-dd-dd", Hidden::day);
  for (const std::string_view day : {"dd.dd.dddd", "d.dd.dddd", "dd.d.dddd", "d.d.dddd", "dd/dd/dddd"})
    hide(out, day, Hidden::day_of_this_century);
  hide(out, "dd:dd:dd", Hidden::alone);
  hide(out, "dd:dd", Hidden::alone);
  return out;
}
}  // namespace hb::detail
