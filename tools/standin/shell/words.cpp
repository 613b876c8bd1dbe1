#include "tools/standin/shell/words.hpp"

#include <optional>

#include "harness/base/text.hpp"

namespace hb::standin {
namespace {
bool blank(char c) { return c == ' ' || c == '\t'; }

/// Length of a separator at `s[i]`, 0 if none. A & that belongs to a redirection is none.
std::size_t separator(std::string_view s, std::size_t i) {
  const auto two = s.substr(i, 2);
  if (two == "&&" || two == "||") return 2;
  if (s[i] == ';' || s[i] == '\n' || s[i] == '|') return 1;
  return s[i] == '&' && (i == 0 || s[i - 1] != '>') ? 1 : 0;
}

struct Flat {
  std::string_view before;  ///< separator in front
  std::string text;
  bool in_background = false;
};

/// Cuts at separators outside quotes; nullopt for an open quote.
std::optional<std::vector<Flat>> cut(std::string_view s) {
  std::vector<Flat> out;
  std::string_view before = ";";
  std::size_t start = 0;
  char quote = 0;
  const auto put = [&](std::size_t end, std::string_view sep) {
    const auto text = trim(s.substr(start, end - start));
    if (!text.empty()) out.push_back({before, std::string(text), sep == "&"});
    if (!text.empty() || sep == "&&" || sep == "||" || sep == "|") before = sep;
  };
  for (std::size_t i = 0; i < s.size(); ++i) {
    const char c = s[i];
    if (quote != 0) {
      if (c == quote) quote = 0;
      continue;
    }
    if (c == '\'' || c == '"') {
      quote = c;
    } else if (const auto n = separator(s, i); n > 0) {
      put(i, s.substr(i, n));
      i += n - 1;
      start = i + 1;
    }
  }
  if (quote != 0) return std::nullopt;
  put(s.size(), ";");
  return out;
}

void split_words(Step& step) {
  std::string word;
  bool open = false;
  char quote = 0;
  const auto put = [&] {
    if (!open) return;
    open = false;
    if (word == "2>/dev/null")
      step.err_hidden = true;
    else if (word == ">/dev/null" || word == "1>/dev/null")
      step.out_hidden = true;
    else if (word == "2>&1")
      step.err_hidden = step.err_hidden || step.out_hidden;
    else if (word != "</dev/null")
      step.words.push_back(word);
    word.clear();
  };
  for (const char c : step.raw) {
    if (quote != 0) {
      if (c == quote)
        quote = 0;
      else
        word += c;
    } else if (c == '\'' || c == '"') {
      quote = c, open = true;
    } else if (blank(c)) {
      put();
    } else {
      word += c, open = true;
    }
  }
  put();
}

Join join_of(std::string_view separator) {
  return separator == "&&"   ? Join::if_ok
         : separator == "||" ? Join::if_failed
         : separator == "|"  ? Join::piped
                             : Join::always;
}

bool starts(std::string_view s, std::string_view word) {
  return s.substr(0, word.size()) == word && (s.size() == word.size() || blank(s[word.size()]));
}

/// A loop from flat[i] on: `for NAME in ...`, `do BODY`, `done`. Moves i to its last piece.
bool read_loop(const std::vector<Flat>& flat, std::size_t& i, Step& step) {
  step.raw = flat[i].text;
  split_words(step);
  if (step.words.size() < 3 || step.words[2] != "in" || i + 2 >= flat.size()) return false;
  step.loop_name = step.words[1];
  step.loop_values.assign(step.words.begin() + 3, step.words.end());
  step.words.clear();
  if (!starts(flat[i + 1].text, "do") || !starts(flat[i + 2].text, "done")) return false;
  step.raw = trim(std::string_view(flat[i + 1].text).substr(2));
  step.in_background = flat[i + 1].in_background;
  split_words(step);
  i += 2;
  return true;
}
}  // namespace

Steps steps_of(std::string_view command) {
  const auto flat = cut(command);
  if (!flat) return {false, {}};
  Steps out;
  for (std::size_t i = 0; i < flat->size(); ++i) {
    Step step;
    step.join = join_of((*flat)[i].before);
    if (starts((*flat)[i].text, "for")) {
      if (!read_loop(*flat, i, step)) return {false, {}};
    } else {
      step.raw = (*flat)[i].text;
      step.in_background = (*flat)[i].in_background;
      split_words(step);
    }
    out.all.push_back(std::move(step));
  }
  return out;
}
}  // namespace hb::standin
