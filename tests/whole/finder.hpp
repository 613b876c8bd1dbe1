/// Looks for personal texts in bytes, in every form in which a program could have written them down.
/// Threads: immutable after construction.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace hb::test {
struct Canary {
  std::string name, text, place;  ///< place: where the stand-in says it; empty: anywhere
};
/// What `standin --print-canaries` lists.
[[nodiscard]] std::vector<Canary> canaries();

/// One form of a text, in lower case: the search does not heed case.
struct Form {
  std::string kind, bytes;
};
/// The text itself; UTF-16 in both orders; hexadecimal; percent-escaped in three ways; base64 and base64url
/// at each of the three alignments; MD5, SHA-1 and SHA-256 as octets, hexadecimal and base64; and for texts
/// that are mostly digits the bare digits.
[[nodiscard]] std::vector<Form> forms(const std::string& text);

class Finder {
 public:
  explicit Finder(const std::vector<Canary>& all);
  /// "NAME as FORM in WHERE", each once.
  [[nodiscard]] std::vector<std::string> find(const std::string& where, std::string_view bytes) const;

 private:
  static constexpr std::size_t kHead = 8;
  struct Needle {
    std::string bytes, says;
  };
  std::vector<Needle> needles_;
  std::unordered_map<std::uint64_t, std::vector<std::size_t>> by_head_;
};

/// The file's bytes, and what is packed inside: signed contents, the streams and the text of a PDF.
[[nodiscard]] std::string opened_up(const std::string& file, const std::string& bytes);
}  // namespace hb::test
