/// The privacy gate as types. Only numbers, closed enumerations and the two text types below can enter a
/// record, a journal, a log line or a page:
///   Term      words written in this program's source; cannot be made from run-time text (does not compile)
///   ShopText  words of the shop (profile, job form), made only through a screen that refuses what looks
///             personal: by shape (e-mail addresses, telephone numbers, IMEI and serial numbers, URLs,
///             network addresses) and by what the words announce (a password, a code, a person, an address, a
///             birthday)
/// Text that a phone sent is neither, so it has no way in.
/// Threads: plain value types.
#pragma once

#include <compare>
#include <string>
#include <string_view>

#include "harness/base/result.hpp"

namespace hb {

/// A word or sentence of this program. Its constructor runs at compile time only.
class Term {
 public:
  template <std::size_t N>
  consteval Term(const char (&literal)[N]) : s_(literal, N - 1) {}  // NOLINT(google-explicit-constructor)
  constexpr Term() = default;
  [[nodiscard]] constexpr std::string_view view() const noexcept { return s_; }
  [[nodiscard]] std::string str() const { return std::string(s_); }
  [[nodiscard]] constexpr bool empty() const noexcept { return s_.empty(); }
  friend constexpr bool operator==(Term a, Term b) noexcept { return a.s_ == b.s_; }
  friend constexpr auto operator<=>(Term a, Term b) noexcept { return a.s_ <=> b.s_; }

 private:
  std::string_view s_;
};

/// Text of the shop that passed the screen. Empty by default.
class ShopText {
 public:
  ShopText() = default;
  ShopText(Term t) : s_(t.view()) {}  // NOLINT(google-explicit-constructor)

  /// Screens `text`. Errors: privacy (with the reason, never with the text itself), invalid_argument for
  /// characters that are not seen (all_seen), invalid UTF-8 or more than `max_bytes`.
  /// The rules are the shop's own heuristics (common practice, no source), except the IMEI check digit,
  /// which is Luhn's formula, ISO/IEC 7812-1 annex B.
  [[nodiscard]] static Result<ShopText> screened(std::string_view text, std::string_view field,
                                                 std::size_t max_bytes = 400);
  /// What the shop itself publishes (its name and contact on the sheet): the same form, but an address, a
  /// name or a telephone number is allowed. For nothing else.
  [[nodiscard]] static Result<ShopText> published(std::string_view text, std::string_view field,
                                                  std::size_t max_bytes = 120);
  /// A supplier's lot: 2 to 16 of A-Z, 0-9 and '-' (small letters become capitals), at most 8 digits and no
  /// piece longer than 8, so that serial and telephone numbers do not fit; and the screen.
  [[nodiscard]] static Result<ShopText> lot(std::string_view text, std::string_view field);
  /// A text of a record or journal that was written already, perhaps by an earlier version with a weaker
  /// screen: personal_shape() alone. For reading back only.
  [[nodiscard]] static Result<ShopText> kept(std::string_view text, std::string_view field);
  [[nodiscard]] const std::string& str() const noexcept { return s_; }
  [[nodiscard]] bool empty() const noexcept { return s_.empty(); }
  friend bool operator==(const ShopText&, const ShopText&) = default;
  friend auto operator<=>(const ShopText&, const ShopText&) = default;

 private:
  [[nodiscard]] static Result<ShopText> checked(std::string_view text, std::string_view field,
                                                std::size_t max_bytes, Term why);
  std::string s_;
};

/// Why `text` may not be stored, or an empty Term. Pure. The same rules as ShopText::screened.
[[nodiscard]] Term personal_reason(std::string_view text);

/// The part of personal_reason() that rests on shape alone. For what the program itself composed, and for
/// texts that were signed before the words were read: a record must not become unreadable because the screen
/// grew.
[[nodiscard]] Term personal_shape(std::string_view text);

/// Every character is seen where it stands: no controls (C0, C1), bidirectional overrides and isolates, tag
/// and zero-width characters, variation selectors, private use or unassigned code points (Unicode 14.0).
/// False for invalid UTF-8.
[[nodiscard]] bool all_seen(std::string_view text) noexcept;

/// Luhn's check over a run of ASCII digits (ISO/IEC 7812-1 annex B). False for anything else.
[[nodiscard]] bool luhn_valid(std::string_view digits) noexcept;

}  // namespace hb
