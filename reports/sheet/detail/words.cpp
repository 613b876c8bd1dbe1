#include "words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "harness/base/text.hpp"

namespace hb::sheet {
namespace {
constexpr std::array<const char*, 12> kMonths{HB_TEXT("January"), HB_TEXT("February"), HB_TEXT("March"),
                                              HB_TEXT("April"),   HB_TEXT("May"),      HB_TEXT("June"),
                                              HB_TEXT("July"),    HB_TEXT("August"),   HB_TEXT("September"),
                                              HB_TEXT("October"), HB_TEXT("November"), HB_TEXT("December")};

std::string without_minus_zero(std::string s) {
  if (s.starts_with('-') && s.find_first_of("123456789") == std::string::npos) s.erase(0, 1);
  return s;
}

/// Decimal place of the n-th significant digit of x: 1 for 0.12 with n = 1.
int place(double x, int n) { return n - 1 - static_cast<int>(std::floor(std::log10(std::abs(x)))); }
}  // namespace

std::string word(Outcome o, const Language& l) {
  switch (o) {
    case Outcome::pass:
      return l.tr("Passed");
    case Outcome::waived:
      return l.tr("Left out");
    case Outcome::not_tested:
      return l.tr("Not tested");
    case Outcome::marginal:
      return l.tr("Needs attention");
    case Outcome::fail:
      return l.tr("Did not pass");
  }
  return l.tr("Not tested");
}

std::string_view record_word(Outcome o) noexcept {
  switch (o) {
    case Outcome::pass:
      return "pass";
    case Outcome::waived:
      return "waived";
    case Outcome::not_tested:
      return "not tested";
    case Outcome::marginal:
      return "marginal";
    case Outcome::fail:
      return "fail";
  }
  return "not tested";
}

std::string month(int number, const Language& l) {
  return l.tr(kMonths[static_cast<std::size_t>(number - 1) % 12]);
}

std::string date(std::string_view t, const Language& l) {
  if (t.size() < 10 || t[4] != '-' || t[7] != '-') return std::string(t);
  const auto year = to_int(t.substr(0, 4)), m = to_int(t.substr(5, 2)), day = to_int(t.substr(8, 2));
  if (!year || !m || !day || *m < 1 || *m > 12 || *day < 1 || *day > 31) return std::string(t);
  return l.fill("{0} {1} {2}", *day, month(static_cast<int>(*m), l), *year);
}

std::string date_time(std::string_view t, const Language& l) {
  const std::string d = date(t, l);
  if (d == t || t.size() < 16 || t[10] != 'T' || !to_int(t.substr(11, 2)) || t[13] != ':' ||
      !to_int(t.substr(14, 2)))
    return d;
  return fmt::format("{}, {}\u00A0UTC", d, t.substr(11, 5));
}

std::string fixed(double value, int decimals) {
  return without_minus_zero(fmt::format("{:.{}f}", value, std::clamp(decimals, 0, 9)));
}

std::string significant(double value, int digits) {
  if (value == 0 || !std::isfinite(value)) return value == 0 ? "0" : "?";
  if (std::abs(value) < 1e-6 || std::abs(value) >= 1e12) return fmt::format("{:.{}e}", value, digits - 1);
  const int decimals = place(value, digits);
  if (decimals >= 0) return fixed(value, decimals);
  const double step = std::pow(10, -decimals);
  return fixed(std::round(value / step) * step, 0);
}

std::string count(std::int64_t n) {
  std::string s = std::to_string(n);
  if (std::abs(n) < 10000) return s;
  for (std::size_t i = s.size() - 3; i > (n < 0 ? 1U : 0U) && i < s.size(); i -= 3) {
    s.insert(i, "\u202F");
    if (i < 3) break;
  }
  return s;
}

std::string value_text(double value, double u) {
  if (!(u > 0) || !std::isfinite(u))
    return value == std::round(value) && std::abs(value) < 1e9 ? fixed(value, 0) : significant(value, 4);
  const int decimals = place(u, 2);
  if (decimals > 9) return significant(value, 6);
  return fixed(value, std::max(decimals, 0));
}

std::string u_text(double u) { return u > 0 ? significant(u, 2) : "exact"; }

std::string unit_text(std::string_view unit) {
  struct Row {
    std::string_view unit, shown;
  };
  constexpr std::array<Row, 13> rows{{{"1", ""},
                                      {"mm2", "mm²"},
                                      {"mohm", "mΩ"},
                                      {"ohm", "Ω"},
                                      {"degC", "°C"},
                                      {"C", "°C"},
                                      {"deg", "°"},
                                      {"pct", "%"},
                                      {"cycles/px", "cycles/px"},
                                      {"cpp", "cycles/px"},
                                      {"degC/min", "°C/min"},
                                      {"m/s2", "m/s²"},
                                      {"deg/s", "°/s"}}};
  for (const auto& r : rows)
    if (r.unit == unit) return std::string(r.shown);
  return std::string(unit);
}

std::string duration(double seconds) {
  if (!(seconds >= 0) || seconds > 1e7) return "?";
  const auto s = static_cast<std::int64_t>(std::lround(seconds));
  if (s < 60) return fmt::format("{}\u00A0s", s);
  return s % 60 == 0 ? fmt::format("{}\u00A0min", s / 60)
                     : fmt::format("{}\u00A0min {}\u00A0s", s / 60, s % 60);
}

std::string shortened(const std::string& text, std::size_t max) {
  constexpr std::string_view fsi = "\u2068", lri = "\u2066", pdi = "\u2069";
  std::size_t seen = 0, at = 0, open = 0, space = std::string::npos, open_at_space = 0;
  while (at < text.size() && seen < max) {
    const std::string_view rest = std::string_view(text).substr(at);
    if (rest.starts_with(fsi) || rest.starts_with(lri) || rest.starts_with(pdi)) {
      open += rest.starts_with(pdi) ? -1 : 1;  // the marks around foreign words take no room
      at += fsi.size();
      continue;
    }
    if (text[at] == ' ') space = at, open_at_space = open;
    for (++at; at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0) == 0x80;) ++at;
    ++seen;
  }
  while (std::string_view(text).substr(at).starts_with(pdi)) at += pdi.size(), --open;
  if (at >= text.size()) return text;
  const bool word = space != std::string::npos && space > at / 2;
  std::string cut = text.substr(0, word ? space : at);
  for (std::size_t i = word ? open_at_space : open; i > 0; --i) cut += pdi;
  return cut + (word ? "\u00A0\u2026" : "\u2026");
}

std::size_t letters(std::string_view s) noexcept {
  return static_cast<std::size_t>(std::count_if(
      s.begin(), s.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::string capitalised(std::string text) {
  const std::size_t at =
      text.starts_with("\u2066") || text.starts_with("\u2068") ? 3 : 0;  // an isolate opens
  if (at >= text.size()) return text;
  if (text[at] >= 'a' && text[at] <= 'z') text[at] = static_cast<char>(text[at] - 'a' + 'A');
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  // U+00E0 to U+00FE are C3 A0 to C3 BE, their capitals 0x20 lower; B7 is the division sign.
  if (text.size() > at + 1 && byte(at) == 0xC3 && byte(at + 1) >= 0xA0 && byte(at + 1) <= 0xBE &&
      byte(at + 1) != 0xB7)
    text[at + 1] = static_cast<char>(byte(at + 1) - 0x20);
  return text;
}

std::string sentence(std::string text) {
  text = capitalised(std::string(trim(text)));
  std::string closing;  // of an isolate around the whole sentence: behind the full stop
  if (text.starts_with("\u2068") && text.find("\u2069") == text.size() - 3)
    text.resize(text.size() - 3), closing = "\u2069";
  if (!text.empty() && std::string_view(".!?").find(text.back()) == std::string_view::npos &&
      !text.ends_with("\u2026"))
    text += '.';
  return text + closing;
}

std::string listed(const std::vector<std::string>& items, const Language& l) {
  if (items.empty()) return {};
  std::string out = items[0];
  for (std::size_t i = 1; i < items.size(); ++i)
    out = i + 1 == items.size() ? l.fill("{0} and {1}", out, items[i]) : l.fill("{0}, {1}", out, items[i]);
  return out;
}

std::string short_key(std::string_view key_id) {
  std::string out;
  for (std::size_t i = 0; i < key_id.size() && i < 16; ++i) {
    if (i > 0 && i % 4 == 0) out += "\u00A0";
    out += key_id[i] > ' ' && key_id[i] < 0x7F ? key_id[i] : '?';  // a key id is base64url
  }
  return out;
}

}  // namespace hb::sheet
