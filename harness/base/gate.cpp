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

bool looks_like_email(std::string_view t) {
  for (auto at = t.find('@'); at != std::string_view::npos; at = t.find('@', at + 1)) {
    const bool before = at > 0 && t[at - 1] != ' ';
    const auto rest = t.substr(at + 1);
    const auto dot = rest.find('.');
    if (before && dot != std::string_view::npos && dot > 0 &&
        rest.substr(0, dot).find(' ') == std::string_view::npos)
      return true;
  }
  return false;
}
}  // namespace

Term personal_reason(std::string_view t) {
  if (looks_like_email(t)) return "it looks like an e-mail address";
  if (t.find("://") != std::string_view::npos || t.find("www.") != std::string_view::npos)
    return "it looks like a web address";
  // Runs of digits, with the separators that people put into telephone numbers and IMEIs.
  for (std::size_t i = 0; i < t.size();) {
    if (!is_digit(t[i])) {
      ++i;
      continue;
    }
    const bool plus = i > 0 && t[i - 1] == '+';
    std::string digits;
    std::size_t groups = 1, j = i;
    std::size_t last_digit = i;
    while (j < t.size()) {
      if (is_digit(t[j])) {
        if (j > last_digit + 1) ++groups;
        digits += t[j];
        last_digit = j++;
      } else if ((t[j] == ' ' || t[j] == '-' || t[j] == '/' || t[j] == '(' || t[j] == ')' || t[j] == '.') &&
                 j < last_digit + 3) {
        ++j;
      } else {
        break;
      }
    }
    // An ISO date (2026-11-25) is eight digits in three groups and is no telephone number.
    const auto span = t.substr(i, last_digit - i + 1);
    const bool iso_date = span.size() == 10 && span[4] == '-' && span[7] == '-' && digits.size() == 8;
    if (digits.size() >= 14 && digits.size() <= 16 && luhn_valid(digits))
      return "it looks like an IMEI or card number";
    if (plus && digits.size() >= 7) return "it looks like a telephone number";
    if (digits.size() >= 11) return "it holds a long run of digits";
    if (!iso_date && (digits.size() >= 9 || (groups >= 2 && digits.size() >= 7)))
      return "it looks like a telephone number";
    i = std::max(j, i + 1);
  }
  // A run of letters and digits as long as a serial number, with several of each.
  for (std::size_t i = 0; i < t.size();) {
    std::size_t j = i, d = 0, a = 0;
    while (j < t.size() && (is_digit(t[j]) || is_alpha(t[j]))) {
      if (is_digit(t[j]))
        ++d;
      else
        ++a;
      ++j;
    }
    if (j - i >= 11 && d >= 4 && a >= 2) return "it looks like a serial number";
    i = std::max(j, i + 1);
  }
  return {};
}

Result<ShopText> ShopText::screened(std::string_view text, std::string_view field, std::size_t max_bytes) {
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
  if (const Term why = personal_reason(text); !why.empty())
    return Error{ErrorCode::privacy, fmt::format("this text is refused: {}", why.view()), std::string(field),
                 "Describe the fault or the part without personal data."};
  ShopText out;
  out.s_ = std::string(text);
  return out;
}
}  // namespace hb
