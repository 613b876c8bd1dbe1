// Private to harness/base: free text read word by word. Where gate.cpp knows shapes (a telephone number, an
// IMEI), this knows what words announce: a secret, a person, an address, a birthday.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "harness/base/gate.hpp"

namespace hb::detail {
struct Word {
  enum class Form { letters, digits, mixed, sign };
  Form form = Form::sign;
  std::string t;         ///< folded
  bool capital = false;  ///< the first letter, with small ones behind it
  bool shout = false;    ///< capitals only, two or more
  bool apart = true;     ///< white space (or the start) before it
};

/// Lower case, accents folded (ä as ae, é as e), Arabic vowel signs and lengthening left out, alef forms as
/// alef, digits of every script as ASCII.
[[nodiscard]] std::string folded(std::string_view text);
[[nodiscard]] std::vector<Word> words(std::string_view text);
/// Why the words may not be stored, or an empty Term.
[[nodiscard]] Term announced(std::string_view text);
}  // namespace hb::detail
