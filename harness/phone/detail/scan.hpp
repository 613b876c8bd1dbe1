/// Shared by the parsers: a line cursor, strict small conversions, and the two errors they can give.
/// Everything is linear in the text and allocates nothing. Threads: pure.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <utility>

#include "harness/base/gate.hpp"
#include "harness/base/result.hpp"

namespace hb::phone::detail {

/// Walks over lines; carriage returns at a line's end are dropped, a last line without '\n' counts.
class LineCursor {
 public:
  explicit LineCursor(std::string_view text) noexcept : rest_(text) {}
  [[nodiscard]] std::optional<std::string_view> next() noexcept;
  [[nodiscard]] int number() const noexcept { return number_; }

 private:
  std::string_view rest_;
  int number_ = 0;
};

/// "key: value" or "key=value", both trimmed; nullopt when `at` is missing.
struct KeyValue {
  std::string_view key, value;
};
[[nodiscard]] std::optional<KeyValue> key_value(std::string_view line, char at) noexcept;

/// The text after `prefix`, or nullopt.
[[nodiscard]] std::optional<std::string_view> after(std::string_view s, std::string_view prefix) noexcept;
[[nodiscard]] bool contains(std::string_view s, std::string_view part) noexcept;
[[nodiscard]] bool contains_ignoring_case(std::string_view s, std::string_view upper_case_part) noexcept;

/// Whole decimal numbers and finite decimals of at most 40 characters; nullopt for everything else.
[[nodiscard]] std::optional<long long> whole(std::string_view s) noexcept;
[[nodiscard]] std::optional<int> whole_in(std::string_view s, int min, int max) noexcept;
[[nodiscard]] std::optional<double> decimal(std::string_view s) noexcept;
/// A whole number of the device, at most 10^12 in size, divided by `per`.
[[nodiscard]] std::optional<double> scaled(std::string_view s, double per) noexcept;
[[nodiscard]] std::optional<bool> true_false(std::string_view s) noexcept;
/// Seconds since boot from a line of /proc/uptime: two decimals, the first is it.
[[nodiscard]] std::optional<double> uptime_line(std::string_view line) noexcept;

/// Marks keys as seen, so that the first of several equal keys wins, readable or not.
class FirstOnly {
 public:
  [[nodiscard]] bool first(unsigned index) noexcept {
    const auto bit = std::uint64_t{1} << index;
    return (std::exchange(seen_, seen_ | bit) & bit) == 0;
  }
  [[nodiscard]] bool any() const noexcept { return seen_ != 0; }

 private:
  std::uint64_t seen_ = 0;
};

/// bad_format that names the parser and the line, never the text.
[[nodiscard]] Error unreadable(Term parser, int line);
/// unsupported when the phone itself said that it has no such thing or does not show it; else unreadable().
/// Only for texts in which nothing was recognised.
[[nodiscard]] Error nothing_found(Term parser, std::string_view text);
}  // namespace hb::phone::detail
