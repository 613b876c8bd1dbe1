#include "../page_text.hpp"

#include <algorithm>
#include <boost/locale/encoding_utf.hpp>
#include <cstdint>

#include "words.hpp"

namespace hb::sheet {
namespace {
constexpr std::size_t kMaxWords = 4000;

bool is_space(char c) { return c == ' ' || (c >= '\t' && c <= '\r'); }

/// HTML standard 13.2.5.72 and on, as far as sheets and browsers write references.
std::string unescaped(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto end = text[i] == '&' ? text.substr(i, 12).find(';') : std::string_view::npos;
    if (end == std::string_view::npos) {
      out += text[i];
      continue;
    }
    const auto name = text.substr(i + 1, end - 1);
    constexpr std::pair<std::string_view, std::string_view> named[] = {
        {"amp", "&"}, {"lt", "<"}, {"gt", ">"}, {"quot", "\""}, {"apos", "'"}, {"nbsp", " "}};
    const auto* it =
        std::find_if(std::begin(named), std::end(named), [&](const auto& n) { return n.first == name; });
    if (it != std::end(named)) {
      out += it->second;
    } else if (name.starts_with('#')) {
      std::uint32_t c = 0;
      const bool hexadecimal = name.size() > 1 && (name[1] == 'x' || name[1] == 'X');
      for (const char d : name.substr(hexadecimal ? 2 : 1)) {
        const auto low = static_cast<char>(d | 0x20);
        const auto digit = d >= '0' && d <= '9' ? d - '0' : low >= 'a' && low <= 'f' ? low - 'a' + 10 : 0;
        c = std::min<std::uint32_t>(c * (hexadecimal ? 16 : 10) + static_cast<std::uint32_t>(digit),
                                    0x110000);
      }
      out += boost::locale::conv::utf_to_utf<char>(std::u32string(1, static_cast<char32_t>(c)));
    } else {
      out += text.substr(i, end + 1);
    }
    i += end;
  }
  return out;
}

std::string lower(std::string_view s) {
  std::string out(s);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c | 0x20);
  return out;
}

/// No-break spaces divide words like others; marks of direction are no part of a word.
void add_words(std::vector<std::string>& out, std::string_view text) {
  std::string word;
  const auto end = [&] {
    if (!word.empty()) out.push_back(std::move(word));
    word.clear();
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto next = [&](std::size_t k) {
      return i + k < text.size() ? static_cast<unsigned char>(text[i + k]) : 0U;
    };
    if (is_space(text[i])) {
      end();
    } else if (next(0) == 0xc2 && next(1) == 0xa0) {
      end(), ++i;
    } else if (next(0) == 0xe2 && next(1) == 0x80 &&
               (next(2) == 0xaf || (next(2) >= 0x80 && next(2) <= 0x8a))) {
      end(), i += 2;
    } else if (next(0) == 0xe2 && (next(1) == 0x80 || next(1) == 0x81) &&
               (next(2) == 0x8e || next(2) == 0x8f || (next(2) >= 0xa6 && next(2) <= 0xae))) {
      i += 2;
    } else {
      word += text[i];
    }
  }
  end();
}

std::string digits(std::string_view word) {
  std::string out;
  std::copy_if(word.begin(), word.end(), std::back_inserter(out),
               [](char c) { return c >= '0' && c <= '9'; });
  return out;
}

struct Pair {
  std::size_t written, page;
};
/// Of the longest common subsequence; the last is the pair of ends.
std::vector<Pair> agreeing(const std::vector<std::string>& a, const std::vector<std::string>& b) {
  const std::size_t n = a.size(), m = b.size();
  std::vector<std::uint16_t> length((n + 1) * (m + 1));
  const auto at = [&](std::size_t i, std::size_t j) -> std::uint16_t& { return length[i * (m + 1) + j]; };
  for (std::size_t i = n; i-- > 0;)
    for (std::size_t j = m; j-- > 0;)
      at(i, j) = a[i] == b[j] ? static_cast<std::uint16_t>(at(i + 1, j + 1) + 1)
                              : std::max(at(i + 1, j), at(i, j + 1));
  std::vector<Pair> out;
  for (std::size_t i = 0, j = 0; i < n && j < m;) {
    if (a[i] == b[j])
      out.push_back({i++, j++});
    else if (at(i + 1, j) >= at(i, j + 1))
      ++i;
    else
      ++j;
  }
  out.push_back({n, m});
  return out;
}
}  // namespace

Result<std::vector<std::string>> html_words(std::string_view html) {
  std::vector<std::string> out;
  for (std::size_t at = 0; at < html.size();) {
    const auto open = std::min(html.find('<', at), html.size());
    add_words(out, unescaped(html.substr(at, open - at)));
    if (open == html.size()) break;
    const auto tag = lower(html.substr(open, 8));
    std::string_view until = ">";
    if (tag.starts_with("<!--")) until = "-->";
    if (tag.starts_with("<script")) until = "</script>";
    if (tag.starts_with("<style")) until = "</style>";
    const auto end = html.find(until, open);
    if (end == std::string_view::npos) break;
    at = end + until.size();
  }
  return out;
}

std::vector<std::string> words_of(std::string_view text) {
  std::vector<std::string> out;
  add_words(out, text);
  return out;
}

std::string html_language(std::string_view html) {
  const auto at = html.find("<html lang=\"");
  if (at == std::string_view::npos) return {};
  const auto from = at + 12;
  const auto end = html.find('"', from);
  return end == std::string_view::npos || end - from > 12 ? std::string()
                                                          : std::string(html.substr(from, end - from));
}

std::vector<std::string> outcome_words(std::string_view language) {
  std::vector<std::string> out;
  const auto l = Language::named(language);
  if (!l) return out;
  for (const auto o : {Outcome::pass, Outcome::marginal, Outcome::fail, Outcome::not_tested, Outcome::waived})
    out.push_back(word(o, *l));
  return out;
}

std::optional<Contradiction> contradiction(const std::vector<std::string>& written,
                                           const std::vector<std::string>& page,
                                           const std::vector<std::string>& outcomes) {
  constexpr std::size_t kLongest = 4;
  if (written.empty() || written.size() > kMaxWords || page.size() > kMaxWords) return std::nullopt;
  const auto pairs = agreeing(written, page);
  if ((pairs.size() - 1) * 10 < written.size() * 6) return std::nullopt;
  const auto text = [](const std::vector<std::string>& words, std::size_t from, std::size_t to) {
    std::string out;
    for (std::size_t i = from; i < to; ++i) out += (out.empty() ? "" : " ") + words[i];
    return out;
  };
  // A program that divides words otherwise leaves the digits as they were, one after the other.
  const bool other_digits = digits(text(written, 0, written.size())) != digits(text(page, 0, page.size()));
  for (std::size_t k = 0; k + 1 < pairs.size(); ++k) {
    const auto a = pairs[k], b = pairs[k + 1];
    const std::size_t n = b.written - a.written - 1, m = b.page - a.page - 1;
    if (n == 0 || m == 0 || n > kLongest || m > kLongest) continue;
    const Contradiction c{text(page, a.page + 1, b.page), text(written, a.written + 1, b.written)};
    const bool other_here = other_digits && n == m && digits(c.page) != digits(c.record);
    for (std::size_t i = 1; other_here && i <= n; ++i) {
      const auto w = digits(written[a.written + i]), p = digits(page[a.page + i]);
      if (!w.empty() && !p.empty() && w != p) return c;
    }
    const auto is_outcome = [&](const std::string& s) {
      return std::find(outcomes.begin(), outcomes.end(), s) != outcomes.end();
    };
    if (is_outcome(c.record) && is_outcome(c.page)) return c;
  }
  return std::nullopt;
}
}  // namespace hb::sheet
