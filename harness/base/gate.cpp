#include "harness/base/gate.hpp"

#include <fmt/format.h>

#include <algorithm>

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

/// Lower case, with the look-alikes that hide a number made plain: full-width digits, wide and no-break
/// spaces, dashes. ISO dates become '#', so that they are no part of a number.
std::string plain(std::string_view t) {
  std::string out;
  for (std::size_t i = 0; i < t.size(); ++i) {
    const auto at = [&](std::size_t k) {
      return i + k < t.size() ? static_cast<unsigned char>(t[i + k]) : 0U;
    };
    if (at(0) == 0xef && at(1) == 0xbc && at(2) >= 0x90 && at(2) <= 0x99) {
      out += static_cast<char>('0' + (at(2) - 0x90));
      i += 2;
    } else if (at(0) == 0xc2 && at(1) == 0xa0) {
      out += ' ';
      i += 1;
    } else if (at(0) == 0xe2 && at(1) == 0x80 && (at(2) <= 0x8a || at(2) == 0xaf)) {
      out += ' ';
      i += 2;
    } else if (at(0) == 0xe2 && at(1) == 0x80 && at(2) >= 0x90 && at(2) <= 0x95) {
      out += '-';
      i += 2;
    } else {
      out += t[i] >= 'A' && t[i] <= 'Z' ? static_cast<char>(t[i] - 'A' + 'a') : t[i];
    }
  }
  constexpr std::string_view shape = "dddd-dd-dd";
  for (std::size_t i = 0; i + shape.size() <= out.size(); ++i) {
    bool date = (i == 0 || !is_digit(out[i - 1])) && (i + 10 == out.size() || !is_digit(out[i + 10]));
    for (std::size_t k = 0; k < shape.size(); ++k)
      date = date && (shape[k] == 'd' ? is_digit(out[i + k]) : out[i + k] == '-');
    if (!date) continue;
    out.erase(i + 1, shape.size() - 1);
    out[i] = '#';
  }
  return out;
}

bool looks_like_email(std::string_view t) {
  for (auto at = t.find('@'); at != std::string_view::npos; at = t.find('@', at + 1)) {
    if (at > 0 && at + 1 < t.size() && is_word(t[at - 1]) && is_word(t[at + 1])) return true;
    const auto after = trim(t.substr(at + 1));
    const auto word = after.substr(0, after.find(' '));
    const auto dot = word.find('.');
    if (!trim(t.substr(0, at)).empty() && dot != std::string_view::npos && dot > 0 && dot + 1 < word.size())
      return true;
  }
  return false;
}

bool looks_like_web(std::string_view t) {
  if (t.find("://") != std::string_view::npos || t.find("www.") != std::string_view::npos) return true;
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
};

/// A run of digits with the separators that people put into telephone numbers and IMEIs.
Digits digits_from(std::string_view t, std::size_t from) {
  constexpr std::string_view separators = " -/().,_";
  Digits d;
  std::size_t last = from, length = 0;
  for (std::size_t j = from; j < t.size(); ++j) {
    if (is_digit(t[j])) {
      if (j > last + 1) {
        ++d.groups;
        length = 0;
        if (j == last + 2 && (t[last + 1] == '.' || t[last + 1] == ',')) ++d.decimals;
      }
      d.digits += t[j];
      d.longest = std::max(d.longest, ++length);
      last = j;
    } else if (separators.find(t[j]) == std::string_view::npos || j >= last + 3) {
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
  const bool list_of_decimals = d.decimals * 2 == d.groups && d.longest <= 4;
  if (list_of_decimals) return {};
  if (n >= 11) return "it holds a long run of digits";
  if (n >= 9 || (d.groups >= 2 && n >= 7 && n >= 2 * d.groups)) return "it looks like a telephone number";
  return {};
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
  const std::string t = plain(text);
  if (looks_like_email(t)) return "it looks like an e-mail address";
  if (looks_like_web(t)) return "it looks like a web address";
  for (std::size_t i = 0; i < t.size(); ++i) {
    if (!is_digit(t[i])) continue;
    const auto d = digits_from(t, i);
    if (const Term why = number_reason(d, i > 0 && t[i - 1] == '+'); !why.empty()) return why;
    i = d.end - 1;
  }
  if (looks_like_serial(t)) return "it looks like a serial number";
  return {};
}

Result<ShopText> ShopText::published(std::string_view text, std::string_view field, std::size_t max_bytes) {
  return checked(text, field, max_bytes, false);
}

Result<ShopText> ShopText::screened(std::string_view text, std::string_view field, std::size_t max_bytes) {
  return checked(text, field, max_bytes, true);
}

Result<ShopText> ShopText::checked(std::string_view text, std::string_view field, std::size_t max_bytes,
                                   bool screen) {
  text = trim(text);
  if (text.size() > max_bytes)
    return Error{ErrorCode::invalid_argument, fmt::format("the text is longer than {} bytes", max_bytes),
                 std::string(field), "Shorten it."};
  if (!valid_utf8(text))
    return Error{ErrorCode::invalid_argument, "the text is not valid UTF-8", std::string(field),
                 "Type it again."};
  if (std::any_of(text.begin(), text.end(),
                  [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; }))
    return Error{ErrorCode::invalid_argument, "the text holds control characters", std::string(field),
                 "Use one line of plain text."};
  if (const Term why = screen ? personal_reason(text) : Term(); !why.empty())
    return Error{ErrorCode::privacy, fmt::format("this text is refused: {}", why.view()), std::string(field),
                 "Describe the fault or the part without personal data."};
  ShopText out;
  out.s_ = std::string(text);
  return out;
}
}  // namespace hb
