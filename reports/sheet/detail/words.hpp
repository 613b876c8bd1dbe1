/// Words, dates and numbers of the faces. Pure. No-break spaces before units. Numbers use a full stop until
/// Language::number has seen them.
#pragma once

#include <string>
#include <string_view>

#include "language.hpp"
#include "view.hpp"

namespace hb::sheet {

/// "Passed", "Needs attention", "Did not pass", "Not tested", "Left out".
[[nodiscard]] std::string word(Outcome o, const Language& l);
/// The record's own word.
[[nodiscard]] std::string_view record_word(Outcome o) noexcept;

/// 1 to 12.
[[nodiscard]] std::string month(int number, const Language& l);
/// "2026-11-25T10:42:00Z" -> "25 November 2026"; text that is no such time comes back as it is.
[[nodiscard]] std::string date(std::string_view rfc3339, const Language& l);
/// -> "25 November 2026, 10:42 UTC"
[[nodiscard]] std::string date_time(std::string_view rfc3339, const Language& l);

/// `digits` significant digits, never in exponent form between 1e-6 and 1e12; "-0" becomes "0".
[[nodiscard]] std::string significant(double value, int digits);
/// Fixed decimals; "-0.0" becomes "0.0".
[[nodiscard]] std::string fixed(double value, int decimals);
/// Whole number with narrow no-break spaces between thousands from five digits on.
[[nodiscard]] std::string count(std::int64_t n);
/// Value rounded to the place of the uncertainty's second significant digit (JCGM 100:2008, 7.2.6).
[[nodiscard]] std::string value_text(double value, double u);
/// The uncertainty alone with two significant digits.
[[nodiscard]] std::string u_text(double u);
/// A record's unit as people write it: "mohm" -> "mΩ", "degC" -> "°C", "1" -> "".
[[nodiscard]] std::string unit_text(std::string_view unit);
/// 95 -> "1 min 35 s"
[[nodiscard]] std::string duration(double seconds);

/// At most about `max` code points, cut between words and ended with an ellipsis.
[[nodiscard]] std::string shortened(const std::string& text, std::size_t max);
/// Code points.
[[nodiscard]] std::size_t letters(std::string_view text) noexcept;
/// Latin letters of ASCII and Latin-1.
[[nodiscard]] std::string capitalised(std::string text);
/// Ends in a full stop, unless it ends a sentence already.
[[nodiscard]] std::string sentence(std::string text);
/// "a, b and c"
[[nodiscard]] std::string listed(const std::vector<std::string>& items, const Language& l);
/// First 16 characters of a key id in groups of four: enough to compare by eye.
[[nodiscard]] std::string short_key(std::string_view key_id);

}  // namespace hb::sheet
