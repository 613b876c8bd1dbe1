/// The words of a sheet's page, and whether they contradict its record. For sheets that another program saved
/// again: the seal covers such a file no more, but what stands on the page can still be held against what was
/// signed. Threads: pure functions, any thread. Total on any bytes.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/result.hpp"

namespace hb::sheet {

/// In the order in which the file has them, divided at white space and, in HTML, at tags; without scripts,
/// style and comments. Errors: bad_format (a PDF that cannot be read, or text in a form that is not
/// understood).
[[nodiscard]] Result<std::vector<std::string>> html_words(std::string_view html);
[[nodiscard]] Result<std::vector<std::string>> pdf_words(std::string_view pdf);
/// Of plain text.
[[nodiscard]] std::vector<std::string> words_of(std::string_view text);
/// "en", ...: what the file says of itself; empty when it says nothing.
[[nodiscard]] std::string html_language(std::string_view html);
[[nodiscard]] std::string pdf_language(std::string_view pdf);

struct Contradiction {
  std::string page, record;  ///< what the page says, and what this program writes there from the record
};
/// `written`: the words of the page that this program writes from the record. Both are laid side by side
/// (longest common subsequence). A contradiction is a stretch of at most four words between words that agree,
/// with as many others in its place and a number among them that has other digits, or one of `outcomes` that
/// became another. Nothing is said when less than six tenths of the words agree: then it is another page.
[[nodiscard]] std::optional<Contradiction> contradiction(const std::vector<std::string>& written,
                                                         const std::vector<std::string>& page,
                                                         const std::vector<std::string>& outcomes);
/// The words for the five results, one list for each language that is known.
[[nodiscard]] std::vector<std::string> outcome_words(std::string_view language);
}  // namespace hb::sheet
