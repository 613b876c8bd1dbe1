#include "harness/base/text.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numeric>

namespace hb {
std::string_view trim(std::string_view s) noexcept {
  constexpr std::string_view ws = " \t\r\n\v\f";
  const auto a = s.find_first_not_of(ws);
  if (a == std::string_view::npos) return {};
  return s.substr(a, s.find_last_not_of(ws) - a + 1);
}

std::vector<std::string_view> split(std::string_view s, char at) {
  std::vector<std::string_view> out;
  for (std::size_t from = 0;;) {
    const auto to = s.find(at, from);
    if (to == std::string_view::npos) return out.push_back(s.substr(from)), out;
    out.push_back(s.substr(from, to - from));
    from = to + 1;
  }
}

std::vector<std::string_view> lines(std::string_view s) {
  auto out = split(s, '\n');
  if (out.back().empty()) out.pop_back();
  for (auto& l : out)
    if (!l.empty() && l.back() == '\r') l.remove_suffix(1);
  return out;
}

std::optional<double> to_double(std::string_view s) noexcept {
  double v = 0;
  const auto [p, ec] = std::from_chars(s.data(), s.data() + s.size(), v);
  if (ec != std::errc{} || p != s.data() + s.size() || !std::isfinite(v)) return std::nullopt;
  return v;
}

std::optional<long long> to_int(std::string_view s, int base) noexcept {
  long long v = 0;
  const auto [p, ec] = std::from_chars(s.data(), s.data() + s.size(), v, base);
  if (ec != std::errc{} || p != s.data() + s.size()) return std::nullopt;
  return v;
}

namespace {
/// Length of the valid UTF-8 sequence at the front of s (RFC 3629), or 0.
std::size_t sequence(std::string_view s) noexcept {
  const auto at = [&](std::size_t i) { return static_cast<unsigned char>(s[i]); };
  const unsigned char c = at(0);
  if (c < 0x80) return 1;
  const std::size_t n = c >= 0xf0 ? 4 : c >= 0xe0 ? 3 : 2;
  if (c < 0xc2 || c > 0xf4 || s.size() < n) return 0;
  unsigned lo = 0x80, hi = 0xbf;
  if (c == 0xe0) lo = 0xa0;
  if (c == 0xed) hi = 0x9f;
  if (c == 0xf0) lo = 0x90;
  if (c == 0xf4) hi = 0x8f;
  if (at(1) < lo || at(1) > hi) return 0;
  for (std::size_t i = 2; i < n; ++i)
    if (at(i) < 0x80 || at(i) > 0xbf) return 0;
  return n;
}
}  // namespace

bool valid_utf8(std::string_view s) noexcept {
  while (!s.empty()) {
    const auto n = sequence(s);
    if (n == 0) return false;
    s.remove_prefix(n);
  }
  return true;
}

std::string printable(std::string_view s, std::size_t max) {
  std::string out;
  while (!s.empty() && out.size() < max) {
    const auto n = sequence(s);
    const auto c = static_cast<unsigned char>(s.front());
    const bool c1 = n == 2 && c == 0xc2 && static_cast<unsigned char>(s[1]) < 0xa0;
    if (n == 0 || (n == 1 && (c < 0x20 || c == 0x7f)) || c1)
      out += '?';
    else
      out += s.substr(0, n);
    s.remove_prefix(std::max<std::size_t>(n, 1));
  }
  if (!s.empty()) out += "...";
  return out;
}

std::string csv_cell(std::string_view text) {
  constexpr std::string_view starts[] = {"=",  "+",      "-",      "@",      "\t",
                                         "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20"};
  // Leading spaces do not keep every spreadsheet from seeing the sign behind them.
  const auto first = text.substr(std::min(text.find_first_not_of(' '), text.size()));
  const bool formula =
      std::any_of(std::begin(starts), std::end(starts), [&](auto s) { return first.starts_with(s); });
  if (!formula && text.find_first_of(",\"\n\r") == std::string_view::npos) return std::string(text);
  std::string out = formula ? "\"'" : "\"";
  for (const char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + '"';
}

std::optional<std::string> nearest(std::string_view word, const std::vector<std::string>& known) {
  std::optional<std::string> best;
  std::size_t best_d = std::max<std::size_t>(2, word.size() / 3) + 1;
  for (const auto& k : known) {
    std::vector<std::size_t> row(k.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 1; i <= word.size(); ++i) {
      std::size_t diagonal = row[0];
      row[0] = i;
      for (std::size_t j = 1; j <= k.size(); ++j) {
        const std::size_t up = row[j];
        row[j] = std::min({row[j] + 1, row[j - 1] + 1, diagonal + (word[i - 1] == k[j - 1] ? 0 : 1)});
        diagonal = up;
      }
    }
    if (row.back() < best_d) best_d = row.back(), best = k;
  }
  return best;
}
}  // namespace hb
