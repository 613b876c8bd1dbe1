/// The language of a customer's sheet: GNU gettext catalogues (reports/sheet/po) that are part of the
/// program. Nothing here reads or sets the process's locale, so two sheets in two languages can be written at
/// once. The msgid is the English text. `{0}`, `{1}` are fmt's fields.
#pragma once

#include <fmt/format.h>

#include <cstdint>
#include <locale>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/result.hpp"

/// Marks a text that is looked up later, through a table.
#define HB_TEXT(text) text
#define HB_MANY(one, many) one, many

namespace hb::sheet {

class Language {
 public:
  /// BCP 47: "en", "de", "ar". Errors: invalid_argument (where: "language") naming the known ones.
  [[nodiscard]] static Result<Language> named(std::string_view code);

  [[nodiscard]] const std::string& code() const noexcept { return code_; }
  [[nodiscard]] bool right_to_left() const noexcept { return code_ == "ar"; }

  [[nodiscard]] std::string tr(const char* text) const;
  /// The same English text with different senses: "main" as a camera and as a battery.
  [[nodiscard]] std::string trc(const char* sense, const std::string& text) const;
  template <class... Args>
  [[nodiscard]] std::string fill(const char* text, const Args&... args) const {
    return fmt::vformat(tr(text), fmt::make_format_args(args...));
  }
  /// By the language's own plural rule. `n` is field {0}.
  template <class... Args>
  [[nodiscard]] std::string filln(const char* one, const char* many, std::int64_t n,
                                  const Args&... args) const {
    return fmt::vformat(plural(one, many, n), fmt::make_format_args(n, args...));
  }
  /// A text of the record, which is English: translated when the catalogue knows it, else as it is.
  [[nodiscard]] std::string of_record(const std::string& text) const;

  /// The shop's words: each piece between "; " that the catalogue of `sense` knows in this language, the
  /// others as they are. Senses: reports/record/catalogue.hpp.
  [[nodiscard]] std::string of_shop(const char* sense, const std::string& text) const;

  /// Digits as `fixed` and its like write them, with this language's decimal mark.
  [[nodiscard]] std::string number(std::string text) const;
  /// Text of any direction inside a sentence of this language: FSI ... PDI (Unicode Standard Annex #9) where
  /// the sentence runs from right to left, else as it is. ltr() for figures with units, ids and commands.
  [[nodiscard]] std::string isolated(const std::string& text) const;
  [[nodiscard]] std::string ltr(const std::string& text) const;

 private:
  Language(std::string code, std::locale catalogue)
      : code_(std::move(code)), catalogue_(std::move(catalogue)) {}
  [[nodiscard]] std::string plural(const char* one, const char* many, std::int64_t n) const;
  friend const Language& english();
  std::string code_;
  std::locale catalogue_;  ///< an object of its own, never the global one
};

/// The language of the code itself; what the technician and the shop read.
[[nodiscard]] const Language& english();
}  // namespace hb::sheet
