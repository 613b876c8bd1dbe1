#include "harness/base/gate.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "gate_plain.hpp"
#include "gate_unseen.hpp"
#include "gate_words.hpp"
#include "harness/base/text.hpp"

namespace hb {
std::string_view name(ErrorCode c) noexcept {
  switch (c) {
    case ErrorCode::invalid_argument:
      return "invalid argument";
    case ErrorCode::not_found:
      return "not found";
    case ErrorCode::bad_format:
      return "bad format";
    case ErrorCode::refused:
      return "refused";
    case ErrorCode::unauthorised:
      return "not authorised";
    case ErrorCode::link_lost:
      return "link lost";
    case ErrorCode::timed_out:
      return "timed out";
    case ErrorCode::cancelled:
      return "cancelled";
    case ErrorCode::unsupported:
      return "not supported";
    case ErrorCode::io:
      return "input/output";
    case ErrorCode::altered:
      return "altered";
    case ErrorCode::unknown_key:
      return "unknown key";
    case ErrorCode::privacy:
      return "privacy";
    case ErrorCode::safety:
      return "safety stop";
    case ErrorCode::internal:
      return "internal";
  }
  return "internal";
}

std::string Error::message() const {
  std::string s = what.empty() ? std::string(name(code)) : what;
  if (!where.empty()) s += fmt::format(" (at {})", where);
  if (!next.empty()) s += fmt::format(". {}", next);
  return s;
}

bool luhn_valid(std::string_view digits) noexcept {
  if (digits.empty()) return false;
  int sum = 0;
  bool twice = false;
  for (auto it = digits.rbegin(); it != digits.rend(); ++it, twice = !twice) {
    if (*it < '0' || *it > '9') return false;
    int d = *it - '0';
    if (twice && (d *= 2) > 9) d -= 9;
    sum += d;
  }
  return sum % 10 == 0;
}

namespace {
bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_alpha(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool is_word(char c) { return is_digit(c) || is_alpha(c); }

/// A letter or digit; of other scripts every byte that `plain` left.
bool is_written(char c) { return is_word(c) || static_cast<unsigned char>(c) >= 0x80; }

/// "e x a m p l e": at least three single characters with a space between.
bool spelled_out(std::string_view t) {
  std::size_t n = 0;
  while (2 * n < t.size() && is_written(t[2 * n]) && (2 * n + 1 == t.size() || t[2 * n + 1] == ' ')) ++n;
  return n >= 3;
}

bool looks_like_email(std::string_view t) {
  for (auto at = t.find('@'); at != std::string_view::npos; at = t.find('@', at + 1)) {
    if (at > 0 && at + 1 < t.size() && is_written(t[at - 1]) && is_written(t[at + 1])) return true;
    const auto before = trim(t.substr(0, at)), after = trim(t.substr(at + 1));
    if (before.empty()) continue;
    const auto word = after.substr(0, after.find(' '));
    const auto dot = word.find('.');
    if (dot != std::string_view::npos && dot > 0 && dot + 1 < word.size()) return true;
    // The dot stands by itself: "ann @ example . org".
    const auto gap = trim(after.substr(word.size()));
    if (!word.empty() && gap.size() > 1 && gap[0] == '.' && is_written(trim(gap.substr(1)).front()))
      return true;
    if (spelled_out(after)) return true;
  }
  // "ann at example dot org"
  for (auto at = t.find(" at "); at != std::string_view::npos; at = t.find(" at ", at + 1)) {
    const auto after = t.substr(at + 4);
    const auto word = after.substr(0, after.find(' '));
    if (!word.empty() && after.substr(word.size()).substr(0, 5) == " dot ") return true;
  }
  return false;
}

bool looks_like_web(std::string_view t) {
  if (t.find("://") != std::string_view::npos || t.find("www.") != std::string_view::npos ||
      t.find("mailto:") != std::string_view::npos)
    return true;
  // name.tld/...
  for (auto slash = t.find('/'); slash != std::string_view::npos; slash = t.find('/', slash + 1)) {
    std::size_t tld = 0;
    while (tld < slash && is_alpha(t[slash - tld - 1])) ++tld;
    const auto dot = slash - tld;
    if (tld >= 2 && tld <= 6 && dot >= 3 && t[dot - 1] == '.' && is_word(t[dot - 2]) && is_word(t[dot - 3]))
      return true;
  }
  return false;
}

struct Digits {
  std::string digits;
  std::size_t groups = 1, decimals = 0, longest = 0, end = 0;  ///< decimals: groups of the form 12.5
  bool padded = false;                                         ///< one of these begins like 07.5
};

/// A run of digits with the separators that people put into telephone numbers and IMEIs.
Digits digits_from(std::string_view t, std::size_t from) {
  constexpr std::string_view separators = " -/().,_:;'|*~+=\\[]{}<>\"#";
  constexpr std::size_t kMostBetween = 4;  // " (0) " and the like
  Digits d;
  std::size_t last = from, length = 0;
  char first = t[from];
  bool fraction = false;  ///< this group is what stands behind a decimal sign
  for (std::size_t j = from; j < t.size(); ++j) {
    if (is_digit(t[j])) {
      if (j > last + 1) {
        ++d.groups;
        fraction = !fraction && j == last + 2 && (t[last + 1] == '.' || t[last + 1] == ',');
        if (fraction) {
          ++d.decimals;
          d.padded = d.padded || (first == '0' && length > 1);
        }
        length = 0;
        first = t[j];
      }
      d.digits += t[j];
      d.longest = std::max(d.longest, ++length);
      last = j;
    } else if (separators.find(t[j]) == std::string_view::npos || j > last + kMostBetween) {
      break;
    }
  }
  d.end = last + 1;
  return d;
}

Term number_reason(const Digits& d, bool plus) {
  const auto n = d.digits.size();
  if (n >= 14 && n <= 16 && luhn_valid(d.digits)) return "it looks like an IMEI or card number";
  if (plus && n >= 7) return "it looks like a telephone number";
  const bool list_of_decimals = d.decimals * 2 == d.groups && d.longest <= 4 && !d.padded;
  if (list_of_decimals) return {};
  if (n >= 11) return "it holds a long run of digits";
  if (n >= 9 || (d.groups >= 2 && n >= 7 && n >= 2 * d.groups)) return "it looks like a telephone number";
  return {};
}

/// Two decimal degrees with four places or more: 11 m and better.
bool looks_like_position(std::string_view t) {
  const auto number = [&](std::size_t& i, std::size_t& whole) {
    whole = 0;
    std::size_t places = 0;
    for (; i < t.size() && is_digit(t[i]); ++i) ++whole;
    if (whole == 0 || whole > 3 || i == t.size() || t[i] != '.') return false;
    for (++i; i < t.size() && is_digit(t[i]); ++i) ++places;
    return places >= 4;
  };
  for (std::size_t from = 0; from < t.size(); ++from) {
    if (!is_digit(t[from]) || (from > 0 && (is_digit(t[from - 1]) || t[from - 1] == '.'))) continue;
    std::size_t i = from, first = 0, second = 0;
    if (!number(i, first)) continue;
    const auto apart = i;
    while (i < t.size() && std::string_view(" ,;/nsew+-").find(t[i]) != std::string_view::npos) ++i;
    if (i > apart && i - apart <= 5 && number(i, second) && (first >= 2 || second >= 2)) return true;
  }
  return false;
}

/// Six pairs of hexadecimal digits: the address of a network interface.
bool looks_like_hardware_address(std::string_view t) {
  const auto is_hex = [](char c) { return is_digit(c) || (c >= 'a' && c <= 'f'); };
  constexpr std::size_t length = 17;
  for (std::size_t i = 0; i + length <= t.size(); ++i) {
    bool fits = (i == 0 || !is_word(t[i - 1])) && (i + length == t.size() || !is_word(t[i + length])) &&
                (t[i + 2] == ':' || t[i + 2] == '-');
    for (std::size_t k = 0; fits && k < length; ++k)
      fits = k % 3 == 2 ? t[i + k] == t[i + 2] : is_hex(t[i + k]);
    if (fits) return true;
  }
  return false;
}

/// Letters and digits in one run as long as a serial number, several of each.
bool looks_like_serial(std::string_view t) {
  for (std::size_t i = 0; i < t.size(); ++i) {
    std::size_t j = i, d = 0, a = 0;
    for (; j < t.size() && is_word(t[j]); ++j) (is_digit(t[j]) ? d : a)++;
    if (j - i >= 11 && d >= 4 && a >= 2) return true;
    i = std::max(i, j);
  }
  return false;
}
}  // namespace

Term personal_reason(std::string_view text) {
  if (const Term shape = personal_shape(text); !shape.empty()) return shape;
  return detail::announced(text);
}

bool all_seen(std::string_view text) noexcept {
  if (!valid_utf8(text)) return false;
  while (!text.empty()) {
    const auto r = detail::read(text);
    if (!detail::seen(r.c)) return false;
    text.remove_prefix(r.length);
  }
  return true;
}

Term personal_shape(std::string_view text) {
  const std::string t = detail::plain(text);
  if (looks_like_email(t)) return "it looks like an e-mail address";
  if (looks_like_web(t)) return "it looks like a web address";
  for (std::size_t i = 0; i < t.size(); ++i) {
    if (!is_digit(t[i])) continue;
    const auto d = digits_from(t, i);
    if (const Term why = number_reason(d, i > 0 && t[i - 1] == '+'); !why.empty()) return why;
    i = d.end - 1;
  }
  if (looks_like_position(t)) return "it looks like a position";
  if (looks_like_hardware_address(t)) return "it looks like a network address";
  if (looks_like_serial(t)) return "it looks like a serial number";
  return {};
}

Result<ShopText> ShopText::published(std::string_view text, std::string_view field, std::size_t max_bytes) {
  return checked(text, field, max_bytes, {});
}

Result<ShopText> ShopText::screened(std::string_view text, std::string_view field, std::size_t max_bytes) {
  text = trim(text);
  return checked(text, field, max_bytes, text.size() > max_bytes ? Term() : personal_reason(text));
}

Result<ShopText> ShopText::kept(std::string_view text, std::string_view field) {
  constexpr std::size_t max_bytes = 1000;
  if (const Term why = personal_shape(text); !why.empty())
    return Error{ErrorCode::privacy, fmt::format("this text is refused: {}", why.view()), std::string(field),
                 ""};
  if (text.size() > max_bytes || !valid_utf8(text))
    return Error{ErrorCode::bad_format, "this is no text of a record", std::string(field), ""};
  ShopText out;
  out.s_ = std::string(text);
  return out;
}

Result<ShopText> ShopText::lot(std::string_view text, std::string_view field) {
  text = trim(text);
  std::string code, spaced;
  std::size_t part = 0, digits = 0;
  bool fits = text.size() >= 2 && text.size() <= 16;
  for (const char c : text) {
    fits = fits && (is_word(c) || c == '-');
    code += c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
    spaced += c == '-' ? ' ' : c;
    part = c == '-' ? 0 : part + 1;
    digits += is_digit(c) ? 1 : 0;
    fits = fits && part <= 8;
  }
  if (!fits || digits > 8)
    return Error{
        ErrorCode::privacy, "this is no lot: 2 to 16 letters, digits and hyphens are one", std::string(field),
        "No piece between hyphens is longer than 8 and there are at most 8 digits, so that no serial number "
        "or telephone number fits. Give the lot as on the box, for example LOT-24K7."};
  // "PIN-4711", "ANNA-2"; a lot may well be digits alone.
  const bool number_alone = spaced.find_first_not_of("0123456789") == std::string::npos;
  const Term why = number_alone && digits <= 6 ? Term() : personal_reason(spaced);
  if (auto t = checked(text, field, 16, why); !t) return t;
  ShopText out;
  out.s_ = std::move(code);
  return out;
}

Result<ShopText> ShopText::checked(std::string_view text, std::string_view field, std::size_t max_bytes,
                                   Term why) {
  text = trim(text);
  if (text.size() > max_bytes)
    return Error{ErrorCode::invalid_argument, fmt::format("the text is longer than {} bytes", max_bytes),
                 std::string(field), "Shorten it."};
  if (!valid_utf8(text))
    return Error{ErrorCode::invalid_argument, "the text is not valid UTF-8", std::string(field),
                 "Type it again."};
  if (!all_seen(text))
    return Error{ErrorCode::invalid_argument, "the text holds control or invisible characters",
                 std::string(field),
                 "Type it again as one line of plain text; pasted text often carries them."};
  if (!why.empty())
    return Error{ErrorCode::privacy, fmt::format("this text is refused: {}", why.view()), std::string(field),
                 "Describe the fault or the part without personal data."};
  ShopText out;
  out.s_ = std::string(text);
  return out;
}
}  // namespace hb
