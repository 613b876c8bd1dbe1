#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <nlohmann/json.hpp>
#include "harness/base/text.hpp"

#include "reports/record/record.hpp"

namespace hb::record {
namespace {
constexpr int kMaxDepth = 64;

Error bad(std::string what) {
  return Error{ErrorCode::bad_format, std::move(what), "canonical JSON", "Correct the value at its source."};
}

/// UTF-16 code units of valid UTF-8: the sort key of RFC 8785 3.2.3.
std::u16string utf16(std::string_view s) {
  std::u16string out;
  for (std::size_t i = 0; i < s.size();) {
    const auto c = static_cast<unsigned char>(s[i]);
    const std::size_t n = c >= 0xf0 ? 4 : c >= 0xe0 ? 3 : c >= 0xc0 ? 2 : 1;
    constexpr unsigned kLeadMask[] = {0, 0x7f, 0x1f, 0x0f, 0x07};
    unsigned point = c & kLeadMask[n];
    for (std::size_t k = 1; k < n; ++k) point = (point << 6) | (static_cast<unsigned char>(s[i + k]) & 0x3fU);
    if (point >= 0x10000) {
      point -= 0x10000;
      out += static_cast<char16_t>(0xd800 + (point >> 10));
      out += static_cast<char16_t>(0xdc00 + (point & 0x3ff));
    } else {
      out += static_cast<char16_t>(point);
    }
    i += n;
  }
  return out;
}

Result<void> put_text(std::string& out, std::string_view s) {
  if (!valid_utf8(s)) return bad("a text is not valid UTF-8");
  constexpr char kHex[] = "0123456789abcdef";
  out += '"';
  for (const char c : s) {
    const auto u = static_cast<unsigned char>(c);
    switch (c) {
      case '"':
        out += "\\\"";
        break;
      case '\\':
        out += "\\\\";
        break;
      case '\b':
        out += "\\b";
        break;
      case '\t':
        out += "\\t";
        break;
      case '\n':
        out += "\\n";
        break;
      case '\f':
        out += "\\f";
        break;
      case '\r':
        out += "\\r";
        break;
      default:
        if (u < 0x20)
          (out += "\\u00") += {kHex[u >> 4], kHex[u & 15]};
        else
          out += c;
    }
  }
  out += '"';
  return {};
}

/// RFC 8785 knows IEEE-754 doubles only: an integer that a double cannot hold is refused, not rounded.
Result<std::string> integer_text(const nlohmann::json& v) {
  constexpr double kTwoTo64 = 18446744073709551616.0;
  const bool negative = v.is_number_integer() && !v.is_number_unsigned() && v.get<std::int64_t>() < 0;
  const double d =
      negative ? static_cast<double>(v.get<std::int64_t>()) : static_cast<double>(v.get<std::uint64_t>());
  const bool exact = negative ? static_cast<std::int64_t>(d) == v.get<std::int64_t>()
                              : d < kTwoTo64 && static_cast<std::uint64_t>(d) == v.get<std::uint64_t>();
  if (!exact) return bad("an integer is too large to be kept exactly");
  return es_number(d);
}

Result<void> put(std::string& out, const nlohmann::json& v, int depth);

Result<void> put_object(std::string& out, const nlohmann::json& v, int depth) {
  std::vector<std::pair<std::u16string, const std::string*>> order;
  for (const auto& [key, unused] : v.items()) {
    if (!valid_utf8(key)) return bad("a name is not valid UTF-8");
    order.emplace_back(utf16(key), &v.find(key).key());
  }
  std::sort(order.begin(), order.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  out += '{';
  bool first = true;
  for (const auto& [unused, key] : order) {
    if (!std::exchange(first, false)) out += ',';
    if (auto r = put_text(out, *key); !r) return r;
    out += ':';
    if (auto r = put(out, v.at(*key), depth + 1); !r) return r;
  }
  out += '}';
  return {};
}

Result<void> put_array(std::string& out, const nlohmann::json& v, int depth) {
  out += '[';
  bool first = true;
  for (const auto& e : v) {
    if (!std::exchange(first, false)) out += ',';
    if (auto r = put(out, e, depth + 1); !r) return r;
  }
  out += ']';
  return {};
}

Result<void> put(std::string& out, const nlohmann::json& v, int depth) {
  if (depth > kMaxDepth) return bad("the value is nested too deeply");
  using Type = nlohmann::json::value_t;
  switch (v.type()) {
    case Type::null:
      out += "null";
      return {};
    case Type::boolean:
      out += v.get<bool>() ? "true" : "false";
      return {};
    case Type::number_integer:
    case Type::number_unsigned: {
      auto t = integer_text(v);
      if (!t) return std::move(t).error();
      out += *t;
      return {};
    }
    case Type::number_float: {
      const double d = v.get<double>();
      if (!std::isfinite(d)) return bad("a number is not finite");
      out += es_number(d);
      return {};
    }
    case Type::string:
      return put_text(out, v.get_ref<const std::string&>());
    case Type::object:
      return put_object(out, v, depth);
    case Type::array:
      return put_array(out, v, depth);
    case Type::binary:
    case Type::discarded:
      break;
  }
  return bad("the value has no JSON form");
}
}  // namespace

std::string es_number(double value) {
  if (value == 0) return "0";  // also minus zero
  std::array<char, 32> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::scientific).ptr;
  const std::string_view text(buffer.data(), static_cast<std::size_t>(end - buffer.data()));
  const auto e_at = text.find('e');
  std::string digits, out;
  for (const char c : text.substr(0, e_at)) {
    if (c == '-') out = "-";
    if (c >= '0' && c <= '9') digits += c;
  }
  const auto exponent_text = text.substr(text[e_at + 1] == '+' ? e_at + 2 : e_at + 1);
  // ECMA-262 Number::toString: value = 0.digits x 10^n, k digits.
  const int n = static_cast<int>(to_int(exponent_text).value_or(0)) + 1;
  const int k = static_cast<int>(digits.size());
  const auto count = [](int i) { return static_cast<std::size_t>(i); };
  if (k <= n && n <= 21) return out + digits + std::string(count(n - k), '0');
  if (0 < n && n <= 21) return out + digits.substr(0, count(n)) + "." + digits.substr(count(n));
  if (-6 < n && n <= 0) return out + "0." + std::string(count(-n), '0') + digits;
  out += digits.substr(0, 1);
  if (k > 1) out += "." + digits.substr(1);
  return out + (n - 1 < 0 ? "e-" : "e+") + std::to_string(std::abs(n - 1));
}

Result<std::string> canonical(const nlohmann::json& value) {
  std::string out;
  if (auto r = put(out, value, 0); !r) return std::move(r).error();
  return out;
}
}  // namespace hb::record
