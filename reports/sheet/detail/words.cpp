#include "words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "harness/base/text.hpp"

namespace hb::sheet {
namespace {
constexpr std::array<std::string_view, 12> kMonths{"January",   "February", "March",    "April",
                                                   "May",       "June",     "July",     "August",
                                                   "September", "October",  "November", "December"};

std::string without_minus_zero(std::string s) {
  if (s.starts_with('-') && s.find_first_of("123456789") == std::string::npos) s.erase(0, 1);
  return s;
}

/// Decimal place of the n-th significant digit of x: 1 for 0.12 with n = 1.
int place(double x, int n) { return n - 1 - static_cast<int>(std::floor(std::log10(std::abs(x)))); }
}  // namespace

std::string_view word(Outcome o) noexcept {
  switch (o) {
    case Outcome::pass:
      return "Passed";
    case Outcome::waived:
      return "Left out";
    case Outcome::not_tested:
      return "Not tested";
    case Outcome::marginal:
      return "Needs attention";
    case Outcome::fail:
      return "Did not pass";
  }
  return "Not tested";
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

std::string_view month(int number) noexcept { return kMonths[static_cast<std::size_t>(number - 1) % 12]; }

std::string date(std::string_view t) {
  if (t.size() < 10 || t[4] != '-' || t[7] != '-') return std::string(t);
  const auto year = to_int(t.substr(0, 4)), m = to_int(t.substr(5, 2)), day = to_int(t.substr(8, 2));
  if (!year || !m || !day || *m < 1 || *m > 12 || *day < 1 || *day > 31) return std::string(t);
  return fmt::format("{}\u00A0{} {}", *day, kMonths[static_cast<std::size_t>(*m - 1)], *year);
}

std::string date_time(std::string_view t) {
  const std::string d = date(t);
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
  constexpr std::array<Row, 12> rows{{{"1", ""},
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
  std::string cut = shown(text, max);
  if (cut == text) return cut;
  const auto space = cut.find_last_of(' ');
  if (space != std::string::npos && space > cut.size() / 2) cut = cut.substr(0, space) + "\u00A0\u2026";
  return cut;
}

std::string capitalised(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

std::string sentence(std::string text) {
  text = capitalised(std::string(trim(text)));
  if (!text.empty() && std::string_view(".!?").find(text.back()) == std::string_view::npos &&
      !text.ends_with("\u2026"))
    text += '.';
  return text;
}

std::string listed(const std::vector<std::string>& items) {
  std::string out;
  for (std::size_t i = 0; i < items.size(); ++i) {
    if (i > 0) out += i + 1 == items.size() ? " and " : ", ";
    out += items[i];
  }
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

std::string quantity_words(std::string_view key) {
  struct Name {
    std::string_view quantity, words;
  };
  static constexpr std::array<Name, 38> names{
      {{"resistance_mohm", "electrical resistance"},
       {"soh_pct", "share of the original capacity"},
       {"design_ratio", "rated size against the right battery"},
       {"imbalance_mv", "difference between the cells"},
       {"share_error_pct", "uneven share of the load"},
       {"coulomb_error_pct", "charge counter off by"},
       {"rest_ocv_error_mv", "voltage at rest off by"},
       {"temperature_rise_c", "warming under load"},
       {"temperature_c", "temperature"},
       {"hysteresis_deg", "difference between opening and closing"},
       {"range_deg", "range of movement"},
       {"noise_deg", "trembling of the angle at rest"},
       {"repeatability_deg", "spread from fold to fold"},
       {"dropout_clusters", "places where the angle falls silent"},
       {"report_rate_hz", "touch reports a second"},
       {"edge_reach_mm", "untouched margin at the edge"},
       {"straightness_rms_mm", "waviness of straight strokes"},
       {"lost_contacts", "touches lost in mid-stroke"},
       {"contacts_max", "fingers seen at once"},
       {"dead_region_cells", "largest patch without an answer, in fields"},
       {"glare_pct", "haze"},
       {"mtf50_centre_cpp", "sharpness in the middle"},
       {"mtf50_worst_corner_cpp", "sharpness in the weakest corner"},
       {"corner_balance", "evenness of sharpness, 1 is even"},
       {"shading_asymmetry_pct", "uneven brightness"},
       {"white_delta_e00", "colour cast on white"},
       {"net_current_ma", "charging current"},
       {"power_fraction", "share of the expected charging power"},
       {"presses_missed", "presses not seen"},
       {"longest_press_s", "longest press"},
       {"presses_at_rest", "presses while nobody touched it"},
       {"lid_toggles_off", "changes of the lid switch missing or too many"},
       {"gravity_error_ms2", "gravity off by"},
       {"offset_ms2", "reading at rest off by"},
       {"response", "share of gravity that is felt"},
       {"cross_axis_pct", "tilt against another axis"},
       {"noise_ms2", "trembling of the reading at rest"},
       {"gyro_bias_deg_s", "turn reported at rest"}}};
  const auto dot = key.rfind('.');
  const auto quantity = key.substr(dot == std::string_view::npos ? 0 : dot + 1);
  for (const auto& n : names)
    if (n.quantity == quantity) return std::string(n.words);
  static constexpr std::array<std::string_view, 12> units{"_pct", "_deg", "_mm", "_ma",  "_mv", "_s",
                                                          "_c",   "_hz",  "_db", "_mah", "_v",  "_cpp"};
  std::string out(quantity);
  for (const auto u : units)
    if (out.ends_with(u)) {
      out.resize(out.size() - u.size());
      break;
    }
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

}  // namespace hb::sheet
