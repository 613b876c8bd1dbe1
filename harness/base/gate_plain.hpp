// Private to harness/base: text as the privacy screen reads it. What the screen does not tell from the shop's
// own words: names, street addresses, numbers spelled out in words or with letters in the place of digits.
#pragma once

#include <string>
#include <string_view>

namespace hb::detail {
/// Lower case ASCII where a character is, or is drawn like, one that a number or an address is written with:
/// decimal digits of every script (Unicode general category Nd), raised, lowered, circled and CJK digits,
/// full-width and mathematical letters, spaces, dashes, dots, slashes, commas, brackets, '@', '+' and ':'.
/// What is not seen (format characters, combining marks, variation selectors) is left out; "(at)" and "[dot]"
/// are what they stand for. ISO dates and times of day become '#', so that they are no part of a number.
/// Everything else stays as it is. Total on any bytes.
[[nodiscard]] std::string plain(std::string_view text);

/// One character. Bytes that are no UTF-8 stand for themselves, one by one, as U+FFFD.
struct Read {
  char32_t c;
  std::size_t length;
};
/// Precondition: not empty.
[[nodiscard]] Read read(std::string_view text);
/// One character as plain() writes it, without what plain() does to the whole text.
void put_plain(std::string& out, std::string_view bytes, char32_t c);
}  // namespace hb::detail
