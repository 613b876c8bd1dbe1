#include "scan.hpp"

#include <algorithm>
#include <string>

#include "harness/base/text.hpp"

namespace hb::phone::detail {

std::optional<std::string_view> LineCursor::next() noexcept {
  if (rest_.empty()) return std::nullopt;
  const auto end = rest_.find('\n');
  auto line = rest_.substr(0, end);
  rest_.remove_prefix(end == std::string_view::npos ? rest_.size() : end + 1);
  while (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  ++number_;
  return line;
}

std::optional<KeyValue> key_value(std::string_view line, char at) noexcept {
  const auto i = line.find(at);
  if (i == std::string_view::npos) return std::nullopt;
  return KeyValue{trim(line.substr(0, i)), trim(line.substr(i + 1))};
}

std::optional<std::string_view> after(std::string_view s, std::string_view prefix) noexcept {
  if (!s.starts_with(prefix)) return std::nullopt;
  return s.substr(prefix.size());
}

bool contains(std::string_view s, std::string_view part) noexcept {
  return s.find(part) != std::string_view::npos;
}

bool contains_ignoring_case(std::string_view s, std::string_view upper_case_part) noexcept {
  const auto same = [](char a, char b) { return (a >= 'a' && a <= 'z' ? a - 'a' + 'A' : a) == b; };
  return std::search(s.begin(), s.end(), upper_case_part.begin(), upper_case_part.end(), same) != s.end();
}

namespace {
constexpr std::size_t kLongestNumber = 40;
}

std::optional<long long> whole(std::string_view s) noexcept {
  if (s.size() > kLongestNumber) return std::nullopt;
  return to_int(s);
}

std::optional<int> whole_in(std::string_view s, int min, int max) noexcept {
  const auto v = whole(s);
  if (!v || *v < min || *v > max) return std::nullopt;
  return static_cast<int>(*v);
}

std::optional<double> decimal(std::string_view s) noexcept {
  if (s.size() > kLongestNumber) return std::nullopt;
  return to_double(s);
}

std::optional<double> scaled(std::string_view s, double per) noexcept {
  constexpr long long most = 1'000'000'000'000;
  const auto v = whole(s);
  if (!v || *v > most || *v < -most) return std::nullopt;
  return static_cast<double>(*v) / per;
}

std::optional<bool> true_false(std::string_view s) noexcept {
  if (s == "true") return true;
  if (s == "false") return false;
  return std::nullopt;
}

std::optional<double> uptime_line(std::string_view line) noexcept {
  line = trim(line);
  const auto blank = line.find(' ');
  if (blank == std::string_view::npos) return std::nullopt;
  const auto up = decimal(line.substr(0, blank));
  if (!up || !decimal(trim(line.substr(blank))) || *up < 0 || *up > 1e10) return std::nullopt;
  return up;
}

Error unreadable(Term parser, int line) {
  return {ErrorCode::bad_format, "the phone's answer is not in a form that this program reads",
          parser.str() + " parser, line " + std::to_string(line),
          "repeat the check; if it stays, this phone's system is not covered: the check is not tested"};
}

Error nothing_found(Term parser, std::string_view text) {
  for (const std::string_view word : {"Can't find service", "Permission Denial", "Permission denied",
                                      "not found", "inaccessible", "Can't open", "could not open"})
    if (contains(text, word))
      return {ErrorCode::unsupported, "this phone does not offer the reading", parser.str() + " parser",
              "the check that needs it is not tested on this phone"};
  return unreadable(parser, 1);
}
}  // namespace hb::phone::detail
