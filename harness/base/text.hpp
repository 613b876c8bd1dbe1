/// Small text helpers shared by every folder. Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace hb {
[[nodiscard]] std::string_view trim(std::string_view s) noexcept;
/// Splits at '\n'; a '\r' before it is dropped; a last line without '\n' counts.
[[nodiscard]] std::vector<std::string_view> lines(std::string_view s);
[[nodiscard]] std::vector<std::string_view> split(std::string_view s, char at);
/// Whole-string conversions: nullopt for anything left over, out of range, NaN or infinity.
[[nodiscard]] std::optional<double> to_double(std::string_view s) noexcept;
[[nodiscard]] std::optional<long long> to_int(std::string_view s, int base = 10) noexcept;
[[nodiscard]] bool valid_utf8(std::string_view s) noexcept;
/// Text of unknown origin made safe for a terminal: control characters and invalid UTF-8 become '?', cut at
/// `max` bytes. Not a privacy measure.
[[nodiscard]] std::string printable(std::string_view s, std::size_t max = 120);
/// One cell of a CSV file (RFC 4180: quoted where a comma, a quote or a line end is in it). A cell that a
/// spreadsheet would take for a formula (it begins with = + - @ TAB or CR, full-width forms included) gets an
/// apostrophe in front and is quoted: OWASP's advice against CSV injection. For texts; numbers are written as
/// they are.
[[nodiscard]] std::string csv_cell(std::string_view text);
/// The entry of `known` with the smallest edit distance to `word`, if it is close enough to be a typo.
[[nodiscard]] std::optional<std::string> nearest(std::string_view word,
                                                 const std::vector<std::string>& known);
}  // namespace hb
